"""One decision: ``step(layout, state, inputs, now) -> (state, commands)``. Pure, and the same again on replay.

Order inside, the last has the last word: requests, trust, weighing, program, control, guard, alarms, outputs. ``now``
is the number of the tick times the period; nothing here asks for the time. Heat needs all of: a run that heats, a
fresh plausible reading, no trip, no veto, a fan command where there is a fan, a closed contactor where there is one.
"""

from __future__ import annotations

from dataclasses import replace

from dryward.core import neighbours
from dryward.core.alarms import UNSEEN, Alarm, Condition, tripped, update
from dryward.core.answer import conditions as answer_conditions
from dryward.core.asks import answer
from dryward.core.commands import Commands, Event, Reply, Severity
from dryward.core.control import Air, ControlState, Demand, cut, decide
from dryward.core.curves import conditions as curve_conditions
from dryward.core.curves import heard
from dryward.core.food import Food, careful_core_c, finish_events, follow, heat_facts, piece_done
from dryward.core.guard import Verdict, judge, notes
from dryward.core.inputs import Inputs, Notice
from dryward.core.layout import Layout
from dryward.core.phases import ACTIVE, ENDED, HELD, MAY_HEAT, Phase
from dryward.core.phases import follow as lead
from dryward.core.progress import Run, advance, current_step, end
from dryward.core.rh_follow import wanted_rh_pct
from dryward.core.scales import Weights, take_readings
from dryward.core.sensor_power import powered
from dryward.core.state import State, Tally
from dryward.core.trust import SensorState, trust
from dryward.core.tune_run import fitted, swing
from dryward.core.weighing import PieceState, played, settle

RAMP_BACK_K_PER_H = 60.0
"""How fast heat comes back after a hold or an outage, so that nothing overshoots on half-warm walls."""
OUT_FOR = "power was out for "
"""So begins why a run is held after an outage."""


def step(layout: Layout, state: State, inputs: Inputs, now: float) -> tuple[State, Commands]:
    """Decide one tick. ``now`` in s on the chamber clock, later than ``state.now``."""
    layout = layout if state.tuned is None else fitted(layout, state.tuned)
    dt_s = min(now - state.now, 2.0 * layout.chamber.period_s)
    before = state
    events: list[Event] = []
    replies: tuple[Reply, ...] = ()
    if inputs.requests:
        state, replies = _requests(layout, state, inputs, events, now)
    run = _restarted(layout, state.run, inputs.notices, events) if inputs.notices else state.run
    sensors = trust(layout, state.sensors, inputs.readings, now)
    air = _air(layout, sensors)
    heating = run.phase in MAY_HEAT
    food = state.food if run.program is None else follow(layout, state.food, sensors, heating=heating, now=now)
    pieces, racks, told = _weigh(layout, state, inputs, sensors, door_open=air.door_open, now=now)
    events.extend(told)
    if pieces is not before.pieces:
        pieces = _settle(layout, pieces, food, run, events, now)
    core_c = _core_c(layout, run, sensors)
    run, told = advance(run, pieces, air.air_c, core_c, waits=state.guard.watch.below_ks > 0.0, dt_s=dt_s, now=now)
    events.extend(told)

    demand = _demand(run, pieces)
    asked, control = decide(layout.chamber, _known(layout, before, run, inputs, now), demand, air, layout.has, now)
    if (test := state.test) is not None:
        run, test, asked, control = swing(test, run, air, asked, control, events, no_heat=state.no_heat, now=now)
    run = _settled(run, demand, control.setpoint_c, state.on, air)
    verdict = judge(
        layout,
        state.guard,
        run=run,
        sensors=sensors,
        notices=inputs.notices,
        was_on=state.on,
        setpoint_c=control.setpoint_c if demand is not None else None,
        swing_c=None if test is None else test.setpoint_c,
        duty=control.duty if "heater" in state.on else 0.0, dt_s=dt_s, now=now,
    )  # fmt: skip
    curves = heard(state.curves, inputs.notices, run, pieces)
    answered = () if demand is None else answer_conditions(control.heat.learned.answer)
    conditions = verdict.conditions + state.worn + curve_conditions(curves) + answered
    if inputs.notices:
        events.extend(notes(inputs.notices))
        conditions += _was_out(layout, before.run, inputs.notices)
    raised = update(state.alarms, conditions, now)
    events.extend(raised.events)
    trips = tripped(raised.alarms)
    run = _consequences(run, verdict, trips, events, now)
    on, no_heat = _outputs(layout, run, asked, verdict, trips, raised.alarms, sensors, now)
    if taken := asked - on:
        control = cut(control, taken, now)
    if run.phase != before.run.phase and test is None:
        events.extend(_phase_events(layout, before.run, run, pieces, food))
    tallies, worn = (state.tallies, state.worn) if on == state.on else _switched(layout, state, on, now)
    after = State(
        now, run, pieces, sensors, food, control, verdict.state, raised.alarms, on, tallies, state.before, worn, no_heat,
        state.answered, racks, curves, test, state.tuned,
    )  # fmt: skip
    keep = bool(events or replies or inputs.weighings)
    return after, Commands(on=on, events=tuple(events), replies=replies, keep=keep)


def _core_c(layout: Layout, run: Run, sensors: tuple[SensorState, ...]) -> float | None:
    """Return the core's temperature where the step in force ends by it."""
    step_now = current_step(run)
    wanted = step_now is not None and step_now.ends.core_c is not None
    return careful_core_c(layout, sensors, heating=True) if wanted else None


def _known(layout: Layout, before: State, run: Run, inputs: Inputs, now: float) -> ControlState:
    """What control may go on with: after a restart every output counts as switched off, so that a compressor rests."""
    known = before.control
    if inputs.notices and any(n.kind == "restarted" for n in inputs.notices):
        known = cut(known, layout.has, now)
    if run.phase == "restarting" and before.run.phase != "restarting":
        known = replace(known, setpoint_c=None)  # the way back begins at the air as it is now
    return known


def _requests(
    layout: Layout, state: State, inputs: Inputs, events: list[Event], now: float
) -> tuple[State, tuple[Reply, ...]]:
    replies: list[Reply] = []
    for request in inputs.requests:
        state, reply, told = answer(layout, state, request, now)
        replies.append(reply)
        events.extend(told)
    return state, tuple(replies)


def _air(layout: Layout, sensors: tuple[SensorState, ...]) -> Air:
    return Air(
        _good(sensors, layout.air),
        _good(sensors, layout.humidity),
        _good(sensors, layout.ambient),
        _good(sensors, layout.ambient_humidity),
        layout.door is not None and sensors[layout.door].value == 1.0,
        None if layout.air is None else sensors[layout.air].sampled_s,
    )


def _good(sensors: tuple[SensorState, ...], index: int | None) -> float | None:
    if index is None:
        return None
    sensor = sensors[index]
    return sensor.value if sensor.quality == "fresh" else None


def _weigh(
    layout: Layout, state: State, inputs: Inputs, sensors: tuple[SensorState, ...], *, door_open: bool, now: float
) -> Weights:
    cell_c = None if layout.scale_temperature is None else sensors[layout.scale_temperature].value
    after = take_readings(
        layout, state.pieces, state.racks, inputs.readings, door_open=door_open, cell_c=cell_c, now=now
    )
    hourly = state.run.phase == "running" and now % neighbours.EVERY_S < layout.chamber.period_s
    if not inputs.weighings and not hourly:
        return after
    pieces, told = after.pieces, after.events
    if inputs.weighings:
        pieces, played_told = played(pieces, inputs.weighings)
        told += played_told
    if hourly:
        pieces, unlike = neighbours.look(pieces, state.run.started_s, now)
        told += unlike
    return Weights(pieces, after.racks, told)


def _settle(
    layout: Layout, pieces: tuple[PieceState, ...], food: Food, run: Run, events: list[Event], now: float
) -> tuple[PieceState, ...]:
    """Call pieces done that have reached their target, and say what that means."""
    settled = tuple([settle(piece, now) for piece in pieces])
    for was, piece in zip(pieces, settled, strict=True):
        if piece is not was and piece.weight_g is not None:
            events.append(piece_done(piece, piece.weight_g, heat_facts(layout, food, run)))
    return settled


def _demand(run: Run, pieces: tuple[PieceState, ...]) -> Demand | None:
    """What the program asks of the chamber now; None when everything is to be off."""
    if run.phase not in MAY_HEAT or run.program is None:
        return None
    ramp_back = RAMP_BACK_K_PER_H if run.phase == "restarting" else None
    step_now = current_step(run)
    if step_now is None:
        return Demand(air_c=run.program.at_end.air_c, ramp_k_per_h=ramp_back)
    if step_now.watch_only:
        return None
    ramp = step_now.ramp_k_per_h
    if ramp_back is not None:
        ramp = ramp_back if ramp is None else min(ramp, ramp_back)
    return Demand(air_c=step_now.air_c, ramp_k_per_h=ramp, rh_pct=wanted_rh_pct(step_now, pieces), vent=step_now.vent)


def _settled(run: Run, demand: Demand | None, setpoint_c: float | None, was_on: frozenset[str], air: Air) -> Run:
    """Lead a passing phase to the one it passes to, once the chamber is there."""
    match run.phase:
        case "holding" | "stopping" | "aborting":
            there = "heater" not in was_on
        case "restarting":
            wanted_c = None if demand is None else demand.air_c
            there = wanted_c is None or (air.air_c is not None and setpoint_c == wanted_c)
        case _:
            return run
    phase = lead(run.phase, "settled") if there else None
    return run if phase is None else replace(run, phase=phase)


def _restarted(layout: Layout, run: Run, notices: tuple[Notice, ...], events: list[Event]) -> Run:
    """F16: what a restart means for a run, by how long it was away."""
    limits = layout.chamber.limits
    for notice in notices:
        if notice.kind != "restarted" or run.phase not in MAY_HEAT:
            continue
        away_s = notice.value
        if 0.0 <= away_s < limits.outage_go_on_s:
            continue
        if 0.0 <= away_s <= limits.outage_ramp_s:
            run = replace(run, phase="restarting", why=f"back after an outage of {away_s / 60.0:.0f} min")
            continue
        known = f"{away_s / 3600.0:.1f} h" if away_s >= 0.0 else "a time that is not known (the clock was not set)"
        run = replace(run, phase="holding", why=f"{OUT_FOR}{known}")
        text = f"Power or dryward was away for {known}. The run is held, the heat is off."
        events.append(held_after_outage(run, text, away_s))
    return run


def held_by_outage(run: Run) -> bool:
    """Return whether a run waits for somebody's word after an outage (F16)."""
    return run.phase in HELD and run.why.startswith(OUT_FOR)


def held_after_outage(run: Run, text: str, away_s: float | None = None) -> Event:
    """Say that a run is held for an outage of ``away_s``, s, until somebody decides (F16)."""
    return Event(
        kind="held-after-outage",
        subject=run.run_id,
        severity="alarm",
        text=text,
        meaning="The pieces have cooled; how long they lay between 60 and 4.4 degC is in doubt.",
        advice="Measure a core temperature and look at the pieces. Then 'dryward resume' or 'dryward stop'. When in doubt, throw it away.",
        value=away_s,
    )


def _was_out(layout: Layout, run: Run, notices: tuple[Notice, ...]) -> tuple[Condition, ...]:
    """F16: an outage after which the run goes on by a ramp is told; a shorter one is not, a longer one holds the run.

    F20: nothing can be held where nothing is known of before.
    """
    limits = layout.chamber.limits
    lost = tuple([Condition("state-lost", detail=n.text) for n in notices if n.kind == "state-lost"])
    if run.phase not in MAY_HEAT:
        return lost
    return lost + tuple(
        [
            Condition("power-was-out", "", n.value / 60.0)
            for n in notices
            if n.kind == "restarted" and limits.outage_go_on_s <= n.value <= limits.outage_ramp_s
        ]
    )


def _worn(layout: Layout, tallies: tuple[Tally, ...]) -> tuple[Condition, ...]:
    """F18: relays near the end of their rated operations."""
    found: tuple[Condition, ...] = ()
    share = layout.chamber.limits.relay_notice_pct / 100.0
    for output, tally in zip(layout.chamber.outputs, tallies, strict=True):
        if output.rated_operations and tally.operations >= share * output.rated_operations:
            found += (Condition("relay-worn", output.name, 100.0 * tally.operations / output.rated_operations),)
    return found


def _consequences(run: Run, verdict: Verdict, trips: tuple[Alarm, ...], events: list[Event], now: float) -> Run:
    """What a trip or the heating cap does to the run."""
    if verdict.heating_cap and run.phase in ACTIVE and run.phase not in ("stopping", "aborting"):
        run = end(run, "stop", "the cap on heating hours was reached", now)
    if not trips or run.phase not in ACTIVE:
        return run
    for trip in trips:
        if trip.fault.effect == "abort":
            return end(run, "abort", f"tripped: {trip.key}", now)
    phase = lead(run.phase, "hold")
    if phase is None:
        return run
    return replace(run, phase=phase, why=f"tripped: {trips[0].key}")


def _outputs(
    layout: Layout,
    run: Run,
    asked: frozenset[str],
    verdict: Verdict,
    trips: tuple[Alarm, ...],
    alarms: tuple[Alarm, ...],
    sensors: tuple[SensorState, ...],
    now: float,
) -> tuple[frozenset[str], str]:
    """The outputs that may be on, and why heat is withheld ('' when it is not)."""
    has = layout.has
    no_heat = verdict.no_heat
    if run.phase not in MAY_HEAT:
        no_heat = f"the run is {run.phase}"
    if trips:
        no_heat = f"tripped: {trips[0].key}"
    on = asked
    if "contactor" in has and run.phase in MAY_HEAT and not trips:
        on |= {"contactor"}
    if "heater" in on and (no_heat or ("fan" in has and "fan" not in on)):
        on -= {"heater"}
    if alarms:
        on = _local_path(on, alarms)
    if "sensor-power" in has and powered(layout, sensors, now):
        on |= {"sensor-power"}
    return on & has, no_heat


def _local_path(on: frozenset[str], alarms: tuple[Alarm, ...]) -> frozenset[str]:
    """F12's fan, and the alarm path that needs no network: the lamp for any alarm, the buzzer for an unheard trip."""
    for alarm in alarms:
        if alarm.phase in UNSEEN:
            continue
        on |= {"lamp"}
        if alarm.fault.trips and alarm.phase in ("active", "latched"):
            on |= {"buzzer"}
        if alarm.key == "heat-while-off":
            on |= {"fan"}
    return on


def _switched(
    layout: Layout, state: State, on: frozenset[str], now: float
) -> tuple[tuple[Tally, ...], tuple[Condition, ...]]:
    tallies = _tally(state.tallies, state.on, on, now)
    return tallies, _worn(layout, tallies)


def _tally(tallies: tuple[Tally, ...], was: frozenset[str], on: frozenset[str], now: float) -> tuple[Tally, ...]:
    after: list[Tally] = []
    for tally in tallies:
        name = tally.name
        if name in on and name not in was:
            after.append(Tally(name, tally.on_s, tally.operations + 1, now))
        elif name in was and name not in on:
            after.append(Tally(name, tally.on_time_s(now), tally.operations, None))
        else:
            after.append(tally)
    return tuple(after)


_SAID: dict[Phase, tuple[str, str]] = {
    "held": ("The run is held: {why}. The heat is off.", "Take care of the pieces or 'dryward resume'."),
    "stopped": ("The run has been stopped: {why}.", "Take the pieces out, cool them, keep them cold."),
    "aborted": (
        "THE RUN WAS ABORTED: {why}.",
        "Find the cause first. Then decide about the pieces: when in doubt, throw them away.",
    ),
}


def _phase_events(
    layout: Layout, before: Run, run: Run, pieces: tuple[PieceState, ...], food: Food
) -> tuple[Event, ...]:
    """Tell the new phase, and at the end of a run what is known of each piece."""
    told = (_phase_event(before, run),)
    return (*told, *finish_events(pieces, heat_facts(layout, food, run))) if run.phase in ENDED else told


def _phase_event(before: Run, run: Run) -> Event:
    if run.phase in _SAID:
        text, advice = _SAID[run.phase]
        severity: Severity = "warning" if run.phase != "aborted" else "alarm"
        return Event(
            kind=f"run-{run.phase}",
            subject=run.run_id,
            severity=severity,
            text=text.format(why=run.why),
            meaning="Meat that cools between 60 and 4.4 degC does not keep for long.",
            advice=advice,
        )
    return Event(kind="phase", subject=run.run_id, text=f"The run went from {before.phase} to {run.phase}.")
