"""The rows of the fault contract as experiments: what is done to the chamber, what must be noticed, how soon.

Each function takes a state and a chamber and returns what was measured, or why the fault cannot be in that state. The
clock of a row is the one its entry in the table uses: seconds, seconds of full power, kelvin-seconds.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import inf

from dryward.core.chamber import Limits
from dryward.core.inputs import Ack, Ask, Notice, Reset, Resume, Start
from dryward.core.phases import MAY_HEAT
from dryward.core.progress import target_air_c
from dryward.core.state import State, adopt
from dryward.record.checkpoint import from_json, to_json
from dryward_hardware.twin.faults import Fault
from tests.faults.stand import Fit, Model, Stand, with_limits
from tests.faults.states import ROOM_C, Case, brought, cool

TICK_S = 1.0
SAMPLE_S = 2.0
ONE_TICK_KS = 20.0  # what a second counts for, far below the band
TUNED = Fit(tuned=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """What was measured in one state on one chamber. ``took`` and ``limit`` in ``unit``; ``wrong`` says what failed besides."""

    took: float
    limit: float
    unit: str = "s"
    noticed: str = ""
    wrong: str = ""

    @property
    def good(self) -> bool:
        """Whether it was noticed in time and everything else was right too."""
        return self.took <= self.limit and not self.wrong


Experiment = Callable[[Case, Model], Cell | str]


def noticed(stand: Stand, keys: tuple[str, ...]) -> str:
    """Return the first of the alarms ``keys`` that is in force, or ''."""
    return next((a.key for a in stand.state.alarms if a.key in keys and a.phase != "pending"), "")


def watch(
    stand: Stand, keys: tuple[str, ...], *, longest_s: float, off_within_s: float = inf
) -> tuple[float, str, str]:
    """Tick until one of ``keys`` is raised. Return after how many seconds, which, and whether heat went on too long."""
    began, wrong = stand.seconds, ""
    while stand.seconds - began < longest_s:
        stand.tick()
        took_s = float(stand.seconds - began)
        if stand.heating and took_s > off_within_s and not wrong:
            wrong = f"still heating after {took_s:.0f} s"
        if found := noticed(stand, keys):
            return took_s, found, wrong or aftermath(stand, found)
    return inf, "", wrong or f"nothing of {', '.join(keys)} within {longest_s:.0f} s"


def aftermath(stand: Stand, key: str) -> str:
    """Say what is wrong with the reaction: a trip takes heat and contactor away, holds or ends the run, and stays."""
    alarm = next(a for a in stand.state.alarms if a.key == key)
    if not alarm.fault.trips:
        return ""
    stand.ticks(3)
    on = stand.last.on
    if {"heater", "contactor"} & on:
        return f"{', '.join(sorted(on))} on after {key}"
    if not {"buzzer", "lamp"} <= on:
        return f"nobody called after {key}"
    phase = stand.state.run.phase
    if phase not in (("aborted",) if alarm.fault.effect == "abort" else ("held",)):
        return f"the run is {phase} after {key}"
    stand.ask(Resume())
    stand.tick()
    return "resumed without acknowledgement and reset" if stand.last.replies[0].accepted else ""


def heats(case: Case) -> bool:
    """Whether heat may be wanted in this state."""
    return case.phase in MAY_HEAT


# --- F4, F5: the reading


def missing(case: Case, model: Model, kind: str = "sensor-silent") -> Cell | str:
    """F4: nothing, or only failures, from the air's sensor."""
    stand = brought(case, model, fit=TUNED, limits=Limits(), faults=(Fault(at_s=0.0, kind=kind),))  # type: ignore[arg-type]
    keys = ("air-lost",) if heats(case) else ("sensor-missing",)
    took_s, found, wrong = watch(stand, keys, longest_s=90.0, off_within_s=10.0 + TICK_S)
    return Cell(took=took_s, limit=60.0, noticed=found, wrong=wrong)


def failing(case: Case, model: Model) -> Cell | str:
    """F4: every read fails."""
    return missing(case, model, "sensor-failed")


def never_there(case: Case, model: Model) -> Cell | str:
    """F4: no reading from the very start."""
    if case.name not in ("cold start", "ramp"):
        return "the start only"
    stand = brought(case, model, fit=TUNED, limits=Limits(), faults=(Fault(at_s=0.0, kind="sensor-silent"),), at_s=2)
    took_s, found, wrong = watch(stand, ("air-lost",), longest_s=90.0, off_within_s=10.0 + TICK_S)
    return Cell(took=took_s, limit=60.0, noticed=found, wrong=wrong)


def impossible(*faults: Fault) -> Experiment:
    """F5: samples that cannot be true: heat off after three, a trip after a minute."""

    def experiment(case: Case, model: Model) -> Cell | str:
        stand = brought(case, model, fit=TUNED, limits=Limits(), faults=faults)
        believed = stand.state.sensors[0].value
        keys = ("air-lost",) if heats(case) else ("sensor-missing",)
        took_s, found, wrong = watch(stand, keys, longest_s=90.0, off_within_s=3 * SAMPLE_S + TICK_S)
        after = stand.state.sensors[0].value
        if believed is None or after is None or abs(after - believed) > 0.5 + 2.0 * (case.name == "cold start"):
            wrong = wrong or f"{after} was believed"
        return Cell(took=took_s, limit=60.0, noticed=found, wrong=wrong)

    return experiment


def jumped(case: Case, model: Model) -> Cell | str:
    """F5: the air's sensor jumps down and stays there: not believed at once, then seen as air that has fallen."""
    if not heats(case):
        return "no heat to lose"
    if case.name == "cold start":
        return "F13"
    stand = brought(
        case, model, fit=TUNED, limits=Limits(), faults=(Fault(at_s=0.0, kind="sensor-offset", value=-25.0),)
    )
    keys = ("below-band-long", "no-heat-near-target", "no-heat-response", "air-disagrees", "over-limit")
    took_s, found, wrong = watch(stand, keys, longest_s=400.0)
    return Cell(took=took_s, limit=180.0, noticed=found, wrong=wrong)


# --- F6 to F9: heat that does not show


def stuck(case: Case, model: Model) -> Cell | str:
    """F6: the air's sensor repeats its last value."""
    if not heats(case):
        return "no heat to answer"
    stand = brought(case, model, fit=TUNED, limits=Limits(), faults=(Fault(at_s=0.0, kind="sensor-frozen"),))
    took_s, found, wrong = watch(stand, ("air-stuck", "no-heat-response", "no-heat-near-target"), longest_s=700.0)
    return Cell(took=took_s, limit=600.0, noticed=found, wrong=wrong)


def stuck_by_solid_state(case: Case, model: Model) -> Cell | str:
    """F6: the same with a solid-state relay, whose short cycles leave no ripple."""
    if not heats(case):
        return "no heat to answer"
    fit = replace(TUNED, cycle_s=4.0)
    stand = brought(case, model, fit=fit, limits=Limits(), faults=(Fault(at_s=0.0, kind="sensor-frozen"),))
    took_s, found, wrong = watch(stand, ("air-stuck", "no-heat-response", "no-heat-near-target"), longest_s=700.0)
    return Cell(took=took_s, limit=600.0, noticed=found, wrong=wrong)


def dead_heater(*, tuned: bool, at_s: int | None = None) -> Experiment:
    """F7: full power into a dead heater."""

    def experiment(case: Case, model: Model) -> Cell | str:
        if case.name != "cold start":
            return "no full power: F8, F9"
        fault = Fault(at_s=0.0, kind="heater-dead")
        stand = brought(case, model, fit=Fit(tuned=tuned), limits=Limits(), faults=(fault,), at_s=at_s)
        took_s, found, wrong = watch(stand, ("no-heat-response",), longest_s=300.0)
        return Cell(took=took_s, limit=180.0, noticed=found, wrong=wrong)

    return experiment


def fallen_out_in_a_cool_step(case: Case, model: Model) -> Cell | str:
    """F8: the sensor lies in the room, and the program wants only a little more. In seconds of full power."""
    if not heats(case):
        return "no heat"
    fit = replace(TUNED, limit=False)
    stand = brought(cool(case), model, fit=fit, limits=Limits(), faults=(Fault(at_s=0.0, kind="sensor-fallen-out"),))
    given_s, found = 0.0, ""
    keys = ("no-heat-near-target", "no-heat-response", "below-band-long")
    for _ in range(6000):
        stand.tick()
        given_s += stand.heating
        if found := noticed(stand, keys):
            return Cell(took=given_s, limit=300.0 + SAMPLE_S, unit="s on", noticed=found, wrong=aftermath(stand, found))
    return Cell(took=inf, limit=300.0, unit="s on", wrong=f"nothing after {given_s:.0f} s of heat")


def falls_out_of_band(case: Case, model: Model) -> Cell | str:
    """F9: the heater dies where the air had been in its band. In kelvin-seconds below it, as the test itself counts."""
    if not heats(case) or case.name == "cold start":
        return "not in its band yet" if heats(case) else "no heat"
    limits = with_limits(no_response_power_s=7000.0, response_s=3000.0, reversed_k=100.0)
    stand = brought(case, model, fit=TUNED, limits=limits, faults=(Fault(at_s=0.0, kind="heater-dead"),))
    below_ks, alarm_ks = 0.0, inf
    for _ in range(4000):
        stand.tick()
        air_c, setpoint_c = stand.state.sensors[0].good, stand.state.control.setpoint_c
        if air_c is not None and setpoint_c is not None:
            below_ks = below_ks + setpoint_c - air_c if air_c < setpoint_c - 5.0 else 0.0
        if alarm_ks == inf and noticed(stand, ("below-band",)):
            alarm_ks = below_ks
        if noticed(stand, ("below-band-long",)):
            late = "" if below_ks <= 1800.0 + ONE_TICK_KS else f"tripped only at {below_ks:.0f} K s"
            return Cell(
                took=alarm_ks,
                limit=600.0 + ONE_TICK_KS,
                unit="K s",
                noticed="below-band",
                wrong=late or aftermath(stand, "below-band-long"),
            )
    return Cell(took=alarm_ks, limit=600.0, unit="K s", wrong="no trip")


# --- F10 to F14: too hot, swapped, in doubt


GAIN_K = {"small-fan-box": 128.0, "slow-box": 128.0, "overpowered": 198.0, "dryer": 105.0}


def above_setpoint(case: Case, model: Model) -> Cell | str:
    """F10: the relay sticks, and every other check is set wide. From the second in which the reading passes for good.

    On a ramp heat goes off above the setpoint of the moment; a trip is for air above where the ramp leads to.
    """
    if not heats(case):
        return "no setpoint"
    limits = with_limits(over_top_step_k=60.0, max_air_c=200.0, off_rise_k=90.0)
    fit = replace(TUNED, contactor=False, limit=False)
    share = (105.0 - ROOM_C) / GAIN_K[model]
    faults = (Fault(at_s=0.0, kind="heater-welded"), Fault(at_s=0.0, kind="heater-weak", value=share))
    stand = brought(case, model, fit=fit, limits=limits, faults=faults)
    above_s = passed_s = 0
    wrong = ""
    for _ in range(6000):
        stand.tick()
        air_c, setpoint_c, target_c = (
            stand.state.sensors[0].value,
            stand.state.control.setpoint_c,
            target_air_c(stand.state.run),
        )
        if air_c is None or setpoint_c is None or target_c is None:
            continue
        above_s = above_s + 1 if air_c > setpoint_c + 5.0 else 0
        passed_s = passed_s + 1 if air_c > max(setpoint_c, target_c) + 5.0 else 0
        if above_s > 31 and "heater" in stand.last.on:
            wrong = wrong or "heat commanded more than 30 s after"
        if found := noticed(stand, ("over-setpoint",)):
            return Cell(took=float(passed_s), limit=180.0, noticed=found, wrong=wrong or aftermath(stand, found))
    return Cell(took=inf, limit=180.0, wrong=wrong or "no trip")


def over_limit(channel: str) -> Experiment:
    """F11: a sensor above the absolute limit."""

    def experiment(case: Case, model: Model) -> Cell | str:
        stand = brought(
            case,
            model,
            fit=TUNED,
            limits=Limits(),
            faults=(Fault(at_s=0.0, kind="sensor-value", value=89.0, channel=channel),),
        )
        took_s, found, wrong = watch(stand, ("over-limit",), longest_s=30.0, off_within_s=2 * SAMPLE_S)
        return Cell(took=took_s, limit=4.0, noticed=found, wrong=wrong)

    return experiment


def welded(*, contactor: bool) -> Experiment:
    """F12: a welded relay. From the second in which the output was last switched off, or the weld if that is later."""

    def experiment(case: Case, model: Model) -> Cell | str:
        if contactor and not heats(case):
            return "the contactor is open"
        fit = replace(TUNED, contactor=contactor)
        stand = brought(case, model, fit=fit, limits=Limits(), faults=(Fault(at_s=0.0, kind="heater-welded"),))
        off_s = stand.seconds
        keys = ("heat-while-off", "over-limit", "over-setpoint")
        for _ in range(4000):
            if "heater" in stand.last.on:
                off_s = stand.seconds
            stand.tick()
            if found := noticed(stand, keys):
                took_s = float(stand.seconds - off_s)
                wrong = aftermath(stand, found)
                if found == "heat-while-off" and "fan" not in stand.last.on:
                    wrong = wrong or "the fan is off"
                peak_c = stand.twin.truth().air_c
                stand.ticks(900)
                if contactor and stand.twin.truth().air_c > peak_c - 5.0:
                    wrong = wrong or "still hot with the contactor open"
                return Cell(took=took_s, limit=180.0, noticed=found, wrong=wrong)
        return Cell(took=inf, limit=180.0, wrong="nothing noticed")

    return experiment


def reversed_sensor(case: Case, model: Model) -> Cell | str:
    """F13: the sensor shows less when it gets warmer."""
    if not heats(case):
        return "no heat"
    begins = 2 if case.name == "cold start" else None
    stand = brought(
        case, model, fit=TUNED, limits=Limits(), faults=(Fault(at_s=0.0, kind="sensor-reversed"),), at_s=begins
    )
    keys = ("reversed", "no-heat-response", "below-band-long", "air-lost")
    took_s, found, wrong = watch(stand, keys, longest_s=400.0)
    return Cell(took=took_s, limit=180.0, noticed=found, wrong=wrong)


def swapped_sensors(case: Case, model: Model) -> Cell | str:
    """F13: the air's sensor and the room's have changed places."""
    if not heats(case):
        return "no heat"
    begins = 2 if case.name == "cold start" else None
    faults = (
        Fault(at_s=0.0, kind="sensor-swapped", other="ambient"),
        Fault(at_s=0.0, kind="sensor-swapped", channel="ambient", other="air"),
    )
    stand = brought(case, model, fit=TUNED, limits=Limits(), faults=faults, at_s=begins)
    keys = ("no-heat-response", "no-heat-near-target", "below-band-long", "air-lost", "reversed")
    took_s, found, wrong = watch(stand, keys, longest_s=400.0)
    return Cell(took=took_s, limit=180.0, noticed=found, wrong=wrong)


def disagreeing(case: Case, model: Model) -> Cell | str:
    """F14: the limit sensor shows 12 K less. From the second in which both are believed."""
    stand = brought(
        case,
        model,
        fit=TUNED,
        limits=Limits(),
        faults=(Fault(at_s=0.0, kind="sensor-offset", value=-12.0, channel="limit"),),
    )
    since: int | None = None
    for _ in range(200):
        stand.tick()
        air_c, limit_c = stand.state.sensors[0].good, stand.state.sensors[1].good
        apart = air_c is not None and limit_c is not None and abs(air_c - limit_c) > 8.0
        since = (stand.seconds if since is None else since) if apart else None
        if since is not None and noticed(stand, ("air-disagrees",)):
            return Cell(took=float(stand.seconds - since), limit=60.0, noticed="air-disagrees")
    return Cell(took=inf, limit=60.0, wrong="nothing noticed")


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


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One row of the matrix."""

    row: str
    what: str
    experiment: Experiment | None = None
    elsewhere: str = ""  # the tests that prove it with real processes


PROCESSES = "real processes: tests/faults_live/test_kills.py"
ROWS: tuple[Row, ...] = (
    Row(row="F1", what="main process dead", elsewhere=PROCESSES),
    Row(row="F2", what="main process hung", elsewhere=PROCESSES),
    Row(
        row="F3",
        what="kernel hung",
        elsewhere="'dryward check' sees that the watchdog is armed: tests/service/test_check_machine.py",
    ),
    Row(row="F4", what="reading silent", experiment=missing),
    Row(row="F4", what="reading fails", experiment=failing),
    Row(row="F4", what="reading never there", experiment=never_there),
    Row(row="F5", what="not a number", experiment=impossible(Fault(at_s=0.0, kind="sensor-nan"))),
    Row(
        row="F5",
        what="0.0 degC, 0.0 %RH",
        experiment=impossible(
            Fault(at_s=0.0, kind="sensor-value", value=0.0),
            Fault(at_s=0.0, kind="sensor-value", value=0.0, channel="humidity"),
        ),
    ),
    Row(row="F5", what="85.000 after power", experiment=impossible(Fault(at_s=0.0, kind="sensor-value", value=85.0))),
    Row(row="F5", what="outside the rating", experiment=impossible(Fault(at_s=0.0, kind="sensor-value", value=250.0))),
    Row(row="F5", what="jump of 25 K", experiment=jumped),
    Row(row="F6", what="stuck value", experiment=stuck),
    Row(row="F6", what="stuck, short cycles", experiment=stuck_by_solid_state),
    Row(row="F7", what="dead from the start", experiment=dead_heater(tuned=False, at_s=2)),
    Row(row="F7", what="dies, untuned", experiment=dead_heater(tuned=False)),
    Row(row="F7", what="dies, tuned", experiment=dead_heater(tuned=True)),
    Row(row="F8", what="fallen out, cool step", experiment=fallen_out_in_a_cool_step),
    Row(row="F9", what="falls out of band", experiment=falls_out_of_band),
    Row(row="F10", what="above its setpoint", experiment=above_setpoint),
    Row(row="F11", what="control air over limit", experiment=over_limit("air")),
    Row(row="F11", what="limit air over limit", experiment=over_limit("limit")),
    Row(row="F12", what="welded relay", experiment=welded(contactor=False)),
    Row(row="F12", what="welded, contactor", experiment=welded(contactor=True)),
    Row(row="F13", what="reversed sensor", experiment=reversed_sensor),
    Row(row="F13", what="swapped sensors", experiment=swapped_sensors),
    Row(row="F14", what="air sensors disagree", experiment=disagreeing),
    Row(row="F15", what="fan stopped", experiment=fan_stopped),
    Row(row="F16", what="away 1 min", experiment=outage(60.0, "running", "")),
    Row(row="F16", what="away 20 min", experiment=outage(1200.0, "restarting", "power-was-out")),
    Row(row="F16", what="away 2 h", experiment=outage(7200.0, "held", "held-after-outage")),
    Row(row="F16", what="away, clock unknown", experiment=outage(-1.0, "held", "held-after-outage")),
    Row(row="F16", what="away after a trip", experiment=outage_after_trip),
    Row(row="F17", what="step overrun", experiment=overrun),
    Row(row="F17", what="cap on heating", experiment=heating_cap),
    Row(row="F18", what="relay worn", experiment=worn_relay),
    Row(
        row="F19",
        what="wall clock jumps",
        experiment=unaffected(Notice("clock-stepped", -3600.0), "clock-stepped", 1.0),
    ),
    Row(
        row="F20",
        what="record fails",
        experiment=unaffected(Notice("record-failing", 0.0, "disk full"), "record-failing", 60.0),
    ),
    Row(
        row="F20",
        what="state lost",
        experiment=unaffected(Notice("state-lost", 0.0, "the record is damaged"), "state-lost", 60.0),
    ),
    Row(row="F21", what="broker lost", experiment=unaffected(Notice("broker-lost"), "broker-lost", 301.0)),
    Row(row="F22", what="door left open", experiment=door_left_open),
    Row(row="F22", what="out of safe band", experiment=out_of_safe_band),
    Row(row="F23", what="keeper died once", experiment=keeper_lost(1.0, "keeper-lost"), elsewhere=PROCESSES),
    Row(row="F23", what="keeper died thrice", experiment=keeper_lost(3.0, "keeper-dying"), elsewhere=PROCESSES),
    Row(row="F24", what="crash loop", experiment=crash_loop, elsewhere=PROCESSES),
)
