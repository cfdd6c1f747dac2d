"""``dryward tune``: let the daemon swing the air around a temperature, see what that says of the chamber, use it."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from dryward.doors.common import config_option, fail, json_option, say_json, send
from dryward.doors.past import open_record, record_option

if TYPE_CHECKING:
    from dryward.service.tuned import Proposal

PACES = click.Choice(["calm", "tight"])
PACE_WORDS = {
    "calm": "calm: swings less and forgives a changed chamber",
    "tight": "tight: follows faster, forgives less",
}
TRUST = {
    "good": "good: the swing is explained",
    "fair": "fair: use it, with the remarks in mind",
    "poor": "poor: not to be believed",
}


@click.group()
def tune() -> None:
    """Find out by a relay test what kind of body the chamber is, and hold the heat by it."""


@tune.command("start")
@click.option(
    "--at",
    "at_c",
    type=float,
    required=True,
    metavar="DEGC",
    help="Air temperature around which to swing: that of your main step.",
)
@click.option(
    "--meat-may-stay", is_flag=True, help="You know that meat is in it, and that its air will swing for hours."
)
@config_option
def start(at_c: float, meat_may_stay: bool, config: Path | None) -> None:
    """Begin the relay test on the running service, with every safety limit in force. 'dryward stop' ends it."""
    send(config, {"verb": "tune", "setpoint_c": at_c, "meat_may_stay": meat_may_stay, "run_id": ""})
    click.echo("Leave the door shut. 'dryward status' shows it; then 'dryward tune show'.")


@tune.command()
@click.argument("run_id", required=False)
@click.option("--pace", type=PACES, default=None, help="Default: as the chamber file has it.")
@config_option
@record_option
@json_option
def show(run_id: str | None, pace: str | None, config: Path | None, record: Path | None, as_json: bool) -> None:
    """Say what the newest relay test found (or RUN_ID) and what to expect of it. Changes nothing."""
    made = _proposal(run_id, pace, config, record)
    if as_json:
        say_json({"run_id": made.run_id, "day": made.day, **asdict(made.advice)})
        return
    click.echo(text(made))


@tune.command()
@click.argument("run_id", required=False)
@click.option("--pace", type=PACES, default=None, help="Default: as the chamber file has it.")
@config_option
def accept(run_id: str | None, pace: str | None, config: Path | None) -> None:
    """Use what the newest relay test found (or RUN_ID), from now on and after every restart."""
    made = _proposal(run_id, pace, config, None)
    if made.advice.quality == "poor":
        fail(f"Refused: the fit of {made.run_id} is poor. {' '.join(_sentences(made))}")
    send(config, {"verb": "adopt", "plant": _plant(made), "cycle_s": made.advice.cycle_s, "pace": _pace(made, pace)})
    click.echo("The same for chamber.toml, where it outlives a lost record:")
    click.echo(toml(made, _pace(made, pace)))


@tune.command()
@config_option
def forget(config: Path | None) -> None:
    """Use the figures of the chamber file again."""
    send(config, {"verb": "adopt", "plant": None})


def text(made: Proposal) -> str:
    """Return a proposal for people."""
    a, test = made.advice, made.test
    p = a.plant
    wear = (
        "the relay does not wear"
        if a.relay_years is None
        else f"{a.operations_per_day:.0f} relay operations a day, its rated life is over after {a.relay_years:.1f} years of heating"
    )
    pace = made.chamber.control.pace
    lines = [
        f"{made.run_id}, {made.day}, around {test.setpoint_c:g} degC in a room at {test.room_c:.1f} degC, {(len(test.turns_s) - 1) // 2} swings",
        f"Trust: {TRUST[a.quality]}.",
        *_sentences(made),
        f"The chamber: full power held for ever lifts the air by {p.gain_k:.1f} K, to 63 % of that in {p.time_constant_s:.0f} s;",
        f"  heat shows after {p.dead_time_s:.1f} s, the sensor lags {p.lag_s:.1f} s.",
        f"Proposed (SIMC PI): gain {a.kc_per_k:.4f} per K, reset time {a.ti_s:.0f} s, {PACE_WORDS[pace]}.",
        f"  Cycle {a.cycle_s:g} s. Holding {test.setpoint_c:g} degC takes {100.0 * a.duty:.0f} % of the power, {'with the meat that was in it' if made.loaded else 'empty'}.",
        f"  Expect the air to swing by {a.ripple_k:.1f} K, the reading by less; {wear}.",
        "Nothing has changed. 'dryward tune accept' uses it from now on; or write into chamber.toml:",
        toml(made, pace),
    ]
    return "\n".join(lines)


def toml(made: Proposal, pace: str) -> str:
    """Return the lines for the chamber file."""
    plant = _plant(made)
    figures = "\n".join(f"{k} = {v}" for k, v in plant.items() if k != "tuned_on")
    return f'[control]\ncycle_s = {made.advice.cycle_s:g}\npace = "{pace}"\n[control.plant]\n{figures}\ntuned_on = "{made.day}"'


def _pace(made: Proposal, pace: str | None) -> str:
    return pace or made.chamber.control.pace


def _plant(made: Proposal) -> dict[str, Any]:
    p = made.advice.plant
    return {
        "gain_k": round(p.gain_k, 2),
        "time_constant_s": round(p.time_constant_s, 1),
        "dead_time_s": round(p.dead_time_s, 2),
        "lag_s": round(p.lag_s, 2),
        "tuned_on": made.day,
    }


def _sentences(made: Proposal) -> list[str]:
    told = [f"{r[0].upper()}{r[1:]}." for r in made.advice.remarks]
    if made.loaded:
        told.append(
            "Meat was in it and took heat: the figures are right for that load. A test of the empty chamber lasts."
        )
    return told


def _proposal(run_id: str | None, pace: str | None, config: Path | None, record: Path | None) -> Proposal:
    from dryward.core.tuning_fit import TuningError
    from dryward.record.lines import NoSuchRun
    from dryward.service.tuned import newest, proposal

    with open_record(config, record) as past:
        name = run_id or newest(past)
        if name is None:
            fail("There is no relay test on record yet: 'dryward tune start --at DEGC' begins one.")
        try:
            return proposal(past, name, pace=pace)
        except (NoSuchRun, LookupError) as error:
            fail(str(error))
        except TuningError as error:
            earlier = " Of an earlier one, give the name: 'dryward runs' lists them." if run_id is None else ""
            fail(f"{name} proposes nothing: {error}.{earlier}".replace("?.", "?"))
