"""The rows F15 to F24 as experiments: fan, run, relays, shell, door, starts.

Each function takes a state and a chamber and returns what was measured, or why the fault cannot be in that state.
"""

from __future__ import annotations

from dataclasses import replace
from math import inf

from dryward.core.chamber import Limits
from dryward.core.inputs import Ack, Ask, Notice, Reset, Resume, Start
from dryward.core.state import State, adopt
from dryward.record.checkpoint import from_json, to_json
from dryward_hardware.twin.faults import Fault
from tests.faults.cell import TICK_S, TUNED, Cell, Experiment, heats, watch
from tests.faults.stand import Model, Stand
from tests.faults.states import Case, brought

# --- F15 to F22: fan, run, relays, shell, door


def fan_stopped(case: Case, model: Model) -> Cell | str:
    """F15: the fan is switched on and its feedback says that it stands."""
    at_s = (
        None if case.hold_s is None or case.resume_s is not None else case.hold_s + 20
    )  # the fan runs on for two minutes
    stand = brought(case, model, fit=TUNED, limits=Limits(), faults=(Fault(at_s=0.0, kind="fan-stopped"),), at_s=at_s)
    took_s, found, wrong = watch(stand, ("fan-stopped",), longest_s=40.0, off_within_s=10.0 + TICK_S)
    return Cell(took=took_s, limit=10.0, noticed=found, wrong=wrong)


def restarted(stand: Stand, away_s: float) -> None:
    """What the service does after an outage: the checkpoint as text and back, then the notice."""
    stand.state = adopt(stand.layout, from_json(State, to_json(stand.state)))
    stand.tell(Notice("restarted", away_s))


def outage(away_s: float, running: str, alarm: str) -> Experiment:
    """F16: back after ``away_s``; a run that heats must then be in ``running``."""

    def experiment(case: Case, model: Model) -> Cell | str:
        stand = brought(case, model, fit=TUNED, limits=Limits())
        restarted(stand, away_s)
        stand.tick()
        wanted = running if heats(case) else case.phase
        if case.phase == "restarting" and wanted == "running":
            wanted = "restarting"
        wrong = "" if stand.state.run.phase == wanted else f"the run is {stand.state.run.phase}, not {wanted}"
        told = alarm in {e.kind for e in stand.events} | {e.subject for e in stand.events}
        if heats(case) and alarm and not told:
            wrong = wrong or f"{alarm} was not told"
        stand.ticks(30)
        if wanted == "held" and stand.heating:
            wrong = wrong or "heats after a long outage"
        return Cell(took=TICK_S, limit=TICK_S, noticed=stand.state.run.phase, wrong=wrong)

    return experiment


def outage_after_trip(case: Case, model: Model) -> Cell | str:
    """F16: never after a trip, however short the outage; only with acknowledgement and reset."""
    stand = brought(case, model, fit=TUNED, limits=Limits())
    stand.tell(Notice("crash-loop", 3.0))
    stand.ticks(5)
    restarted(stand, 2.0)
    stand.ticks(120)
    wrong = "heats after a trip" if stand.heating or stand.state.run.phase != "held" else ""
    tried: tuple[Ask, ...] = (Resume(), Start(program=case.program, run_id="again"), Reset(), Resume())
    for ask in tried:
        stand.ask(ask)
        stand.tick()
        if stand.last.replies[0].accepted or stand.heating:
            wrong = wrong or f"{ask.verb} was accepted after a trip"
    again: tuple[Ask, ...] = (Ack(), Reset(), Resume())
    for ask in again:
        stand.ask(ask)
        stand.tick()
        if not stand.last.replies[0].accepted:
            wrong = wrong or f"{ask.verb} was refused: {stand.last.replies[0].text}"
    return Cell(took=TICK_S, limit=TICK_S, noticed="held", wrong=wrong)


def overrun(case: Case, model: Model) -> Cell | str:
    """F17: a step that takes far too long. The first hour is skipped; the table's time is 1.5 x the plan and 1 h."""
    stand = brought(case, model, fit=TUNED, limits=Limits())
    program = stand.state.run.program
    assert program is not None
    short = replace(
        program.steps[stand.state.run.step_index],
        ends=replace(program.steps[0].ends, dwell_h=0.5, cap_h=None),
        band_k=0.01,
        ramp_k_per_h=None,
    )
    steps = tuple(short if i == stand.state.run.step_index else s for i, s in enumerate(program.steps))
    limit_s = (1.5 * 0.5 + 1.0) * 3600.0
    run = replace(stand.state.run, program=replace(program, steps=steps), step_s=limit_s - 5.0, dwell_s=0.0)
    stand.state = replace(stand.state, run=run)
    if case.phase != "running":
        stand.ticks(20)
        return "its clock stands" if not stand.raised("step-overrun") else Cell(took=0.0, limit=0.0, wrong="clock runs")
    took_s, found, wrong = watch(stand, ("step-overrun",), longest_s=30.0)
    return Cell(took=took_s, limit=7.0, noticed=found, wrong=wrong)


def heating_cap(case: Case, model: Model) -> Cell | str:
    """F17: the heater's hours are used up: the run ends."""
    if not heats(case):
        return "no heat"
    stand = brought(case, model, fit=TUNED, limits=Limits())
    guard = replace(stand.state.guard, heating_s=240.0 * 3600.0 - 1.0)
    stand.state = replace(stand.state, guard=guard)
    given_s = 0
    for _ in range(200):
        given_s += "heater" in stand.last.on
        stand.tick()
        if stand.state.run.phase in ("stopping", "stopped"):
            stand.ticks(3)
            wrong = "" if stand.state.run.phase == "stopped" and not stand.heating else "not ended"
            return Cell(took=float(given_s), limit=2.0, unit="s on", noticed="stopped", wrong=wrong)
    return Cell(took=inf, limit=2.0, unit="s on", wrong="not ended")


def worn_relay(case: Case, model: Model) -> Cell | str:
    """F18: a relay at 70 % of its rated life, seen at its next switching."""
    if not heats(case):
        return "not switched"
    if case.name == "cold start":
        return "not switched yet"
    stand = brought(case, model, fit=TUNED, limits=Limits())
    tallies = tuple(replace(t, operations=69_999) if t.name == "heater" else t for t in stand.state.tallies)
    stand.state = replace(stand.state, tallies=tallies)
    took_s, found, wrong = watch(stand, ("relay-worn",), longest_s=400.0)
    return Cell(took=took_s, limit=240.0, noticed=found, wrong=wrong)


def unaffected(notice: Notice, kind: str, limit_s: float) -> Experiment:
    """F19, F20, F21: told in time, and every output but lamp and buzzer is what it is without the fault."""

    def experiment(case: Case, model: Model) -> Cell | str:
        stand, calm = (brought(case, model, fit=TUNED, limits=Limits()) for _ in range(2))
        stand.tell(notice)
        took_s, wrong = inf, ""
        for second in range(1, int(limit_s) + 30):
            stand.tick()
            calm.tick()
            if {"lamp"} | stand.last.on != {"lamp"} | calm.last.on:
                wrong = wrong or f"another decision after {second} s"
            if took_s == inf and any(kind in (e.kind, e.subject) for e in stand.events):
                took_s = float(second)
        return Cell(took=took_s, limit=limit_s, noticed=kind, wrong=wrong)

    return experiment


def door_left_open(case: Case, model: Model) -> Cell | str:
    """F22: a door that nobody shuts."""
    stand = brought(case, model, fit=TUNED, limits=Limits(), faults=(Fault(at_s=0.0, kind="door-open"),))
    took_s, found, wrong = watch(stand, ("door-open",), longest_s=400.0, off_within_s=2 * TICK_S)
    return Cell(took=took_s, limit=300.0 + TICK_S, noticed=found, wrong=wrong)


def out_of_safe_band(case: Case, model: Model) -> Cell | str:
    """F22: the air outside the safe band of its step, for the two minutes after which that is told."""
    stand = brought(case, model, fit=TUNED, limits=Limits())
    program = stand.state.run.program
    assert program is not None
    steps = tuple(replace(s, safe_air_low_c=95.0) for s in program.steps)
    stand.state = replace(stand.state, run=replace(stand.state.run, program=replace(program, steps=steps)))
    if stand.state.run.dwell_s == 0.0:
        stand.ticks(60)
        return (
            "never in band yet"
            if not stand.raised("air-out-of-safe-band")
            else Cell(took=0.0, limit=0.0, wrong="told too soon")
        )
    took_s, found, wrong = watch(stand, ("air-out-of-safe-band",), longest_s=200.0)
    return Cell(took=took_s, limit=120.0 + TICK_S, noticed=found, wrong=wrong)


def keeper_lost(losses: float, key: str) -> Experiment:
    """F23: what the core does when the shell says that the keeper has died."""

    def experiment(case: Case, model: Model) -> Cell | str:
        stand = brought(case, model, fit=TUNED, limits=Limits())
        stand.tell(Notice("keeper-lost", losses))
        took_s, found, wrong = watch(stand, (key,), longest_s=5.0)
        return Cell(took=took_s, limit=2.0, noticed=found, wrong=wrong)

    return experiment


def crash_loop(case: Case, model: Model) -> Cell | str:
    """F24: what the core does in the third start within ten minutes: no heat, alarms alive."""
    stand = brought(case, model, fit=TUNED, limits=Limits())
    restarted(stand, 1.0)
    stand.tell(Notice("crash-loop", 3.0))
    took_s, found, wrong = watch(stand, ("crash-loop",), longest_s=5.0, off_within_s=0.0)
    return Cell(took=took_s, limit=TICK_S, noticed=found, wrong=wrong)
