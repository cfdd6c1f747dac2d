"""The guard: everything that can take heat away. It never adds any, and it has the last word but one (the keeper's).

Order of thought in each tick: is the control reading good; is anything too hot; does the heat do what it should; do
fan, door and contactor agree; what has the shell reported. Windows and budgets live in ``watch``; what is said and
whether it latches stands in ``faults``; debounce, latch, acknowledgement and reset are ``alarms``.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from dryward.core import watch as w
from dryward.core.alarms import Condition
from dryward.core.inputs import Notice
from dryward.core.layout import Layout
from dryward.core.phases import ACTIVE, MAY_HEAT
from dryward.core.progress import HOUR_S, Run, current_step, top_air_c
from dryward.core.trust import SensorState

KEEPER_LOSSES_TO_TRIP = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class GuardState:
    """What the guard carries from tick to tick; times on the chamber clock, s."""

    watch: w.Watch = w.FRESH
    heating_since: float | None = None  # since when heat may be wanted; a reading is awaited from then on
    disagree_since: float | None = None
    fan_still_since: float | None = None
    door_open_since: float | None = None
    no_heat_why: str = ""  # the shell's own reason never to heat (outputs that persist, commissioning)
    record_why: str = ""
    broker_lost: bool = False
    heating_s: float = 0.0  # heater-on time of this run


class Verdict(NamedTuple):
    """``no_heat`` says why heat is taken away now ('' when it is allowed); conditions go to the alarms."""

    state: GuardState
    no_heat: str
    conditions: tuple[Condition, ...]
    heating_cap: bool
    waits: bool


def judge(
    layout: Layout,
    state: GuardState,
    *,
    run: Run,
    sensors: tuple[SensorState, ...],
    notices: tuple[Notice, ...],
    was_on: frozenset[str],
    setpoint_c: float | None,
    duty: float,
    dt_s: float,
    now: float,
) -> Verdict:
    """Judge one tick. ``was_on`` are the outputs as they have been since the last tick."""
    limits = layout.chamber.limits
    found: list[Condition] = []
    air = sensors[layout.air] if layout.air is not None else None
    heating = run.phase in MAY_HEAT and setpoint_c is not None
    heater_on = "heater" in was_on
    heating_since = (now if state.heating_since is None else state.heating_since) if heating else None
    no_heat = _control_reading(layout, air, heating_since, found, now)
    hottest_c = _too_hot(layout, run, sensors, found)
    disagree_since = _disagreement(layout, state, sensors, found, now)
    door_since = _door(layout, state, sensors, found, now)
    quiet_until = now + w.DOOR_REST_S if door_since is not None else state.watch.quiet_until
    watch = state.watch
    if air is not None and air.quality == "fresh" and air.value is not None:
        watch = w.follow_air(
            watch,
            limits,
            air_c=air.value,
            sampled_s=air.sampled_s,
            hottest_c=air.value if hottest_c is None else hottest_c,
            setpoint_c=setpoint_c if heating else None,
            duty=duty,
            heater_on=heater_on,
            off_wait_s=w.off_wait_s(limits, layout.chamber.control.plant),
            quiet_until=quiet_until,
            dt_s=dt_s,
            now=now,
        )
        no_heat = _response(layout, watch, sensors, air.value, found, now) or no_heat
    elif quiet_until != watch.quiet_until:
        watch = w.Watch(quiet_until=quiet_until)
    fan_since = _fan(layout, state, sensors, was_on, found, now)
    if fan_since is not None and now - fan_since >= limits.fan_feedback_s:
        no_heat = "the fan stands still"
    told = _told(state, notices, found)
    if told.no_heat_why:
        no_heat = told.no_heat_why
    if limits.commissioning:
        no_heat = "commissioning: checks run, heat is never given"
    heating_s = state.heating_s + dt_s if heater_on else state.heating_s
    _bands(layout, run, sensors, found)
    after = GuardState(
        watch=watch,
        heating_since=heating_since,
        disagree_since=disagree_since,
        fan_still_since=fan_since,
        door_open_since=door_since,
        no_heat_why=told.no_heat_why,
        record_why=told.record_why,
        broker_lost=told.broker_lost,
        heating_s=heating_s,
    )
    cap = heating_s >= limits.max_heating_h * HOUR_S and run.phase in ACTIVE
    return Verdict(after, no_heat, tuple(found), cap, watch.below_ks > 0.0)


def _control_reading(
    layout: Layout, air: SensorState | None, heating_since: float | None, found: list[Condition], now: float
) -> str:
    """F4 and F5: without a fresh, plausible reading there is no heat; a minute without one trips."""
    if air is None or layout.air is None:
        return "there is no control sensor"
    limits = layout.chamber.limits
    if air.quality == "fresh" and now - air.sampled_s <= limits.heat_stale_s:
        return ""
    name = layout.chamber.sensors[layout.air].name
    if heating_since is not None:
        missing_s = now - max(air.sampled_s, heating_since)
        found.append(Condition("air-missing", name, missing_s))
        if missing_s >= limits.trip_stale_s:
            found.append(Condition("air-lost", name, missing_s))
    return f"no good reading from {name} ({air.why or air.quality})"


def _too_hot(layout: Layout, run: Run, sensors: tuple[SensorState, ...], found: list[Condition]) -> float | None:
    """F11: any air sensor above the absolute limit in two agreeing samples. Return the hottest trusted air."""
    limits = layout.chamber.limits
    limit_c = limits.max_air_c
    if run.phase in ACTIVE and run.program is not None:
        top_c = top_air_c(run.program)
        if top_c is not None and top_c + limits.over_top_step_k < limit_c:
            limit_c = top_c + limits.over_top_step_k
    hottest_c: float | None = None
    for i in layout.airs:
        sensor = sensors[i]
        raw, before = sensor.raw, sensor.raw_before
        if raw is not None and before is not None and raw > limit_c < before and abs(raw - before) <= limits.jump_k:
            found.append(Condition("over-limit", layout.chamber.sensors[i].name, raw))
        if sensor.quality == "fresh" and sensor.value is not None and (hottest_c is None or sensor.value > hottest_c):
            hottest_c = sensor.value
    return hottest_c


def _disagreement(
    layout: Layout, state: GuardState, sensors: tuple[SensorState, ...], found: list[Condition], now: float
) -> float | None:
    """F14: fresh air sensors that differ for some time."""
    if len(layout.airs) < 2:
        return None
    values = [v for i in layout.airs if (v := sensors[i].good) is not None]
    if len(values) < 2:
        return None
    spread_k = max(values) - min(values)
    if spread_k <= layout.chamber.limits.disagree_k:
        return None
    since = now if state.disagree_since is None else state.disagree_since
    if now - since >= layout.chamber.limits.disagree_s:
        found.append(Condition("air-disagrees", "", spread_k))
    return since


def _door(
    layout: Layout, state: GuardState, sensors: tuple[SensorState, ...], found: list[Condition], now: float
) -> float | None:
    """F22: the door, and since when it is open."""
    if layout.door is None or sensors[layout.door].value != 1.0:
        return None
    since = now if state.door_open_since is None else state.door_open_since
    if now - since >= layout.chamber.limits.door_open_s:
        found.append(Condition("door-open", "", now - since))
    return since


def _response(
    layout: Layout, watch: w.Watch, sensors: tuple[SensorState, ...], air_c: float, found: list[Condition], now: float
) -> str:
    """F6 to F10, F12, F13: does the air do what the heater's state says it should? Return a reason against heat."""
    limits = layout.chamber.limits
    plant = layout.chamber.control.plant
    if watch.still_since and w.stands_still(watch, limits, cycle_s=layout.chamber.control.cycle_s, now=now):
        found.append(Condition("air-stuck", _air_name(layout), air_c))
    if watch.full_since is not None:
        ambient_c = sensors[layout.ambient].good if layout.ambient is not None else None
        if w.no_response(watch, limits, plant, air_c=air_c, ambient_c=ambient_c, now=now):
            found.append(Condition("no-heat-response", "", air_c))
        if w.reversed_response(watch, limits, air_c=air_c, now=now):
            found.append(Condition("reversed", "", air_c))
    if watch.powered_s >= limits.no_response_power_s:
        found.append(Condition("no-heat-near-target", "", air_c))
    if watch.below_ks >= limits.below_band_ks:
        found.append(Condition("below-band", "", air_c))
        if watch.below_ks >= 3.0 * limits.below_band_ks:
            found.append(Condition("below-band-long", "", air_c))
    if _may_be_hot(layout, air_c) and w.rises_while_off(watch, limits, air_c=air_c):
        found.append(Condition("heat-while-off", "", air_c))
    if watch.over_since is None or now - watch.over_since < limits.over_setpoint_s:
        return ""
    found.append(Condition("too-hot-for-step", "", air_c))
    if now - watch.over_since >= limits.over_setpoint_trip_s:
        found.append(Condition("over-setpoint", "", air_c))
    return "the air is too far above its setpoint"


def _may_be_hot(layout: Layout, air_c: float) -> bool:
    """A cooled chamber warms by itself when its cooler rests; only above any room is that the heater."""
    return "heater" in layout.has and ("cooler" not in layout.has or air_c > 30.0)


def _air_name(layout: Layout) -> str:
    return "" if layout.air is None else layout.chamber.sensors[layout.air].name


def _fan(
    layout: Layout,
    state: GuardState,
    sensors: tuple[SensorState, ...],
    was_on: frozenset[str],
    found: list[Condition],
    now: float,
) -> float | None:
    """F15: the fan is switched on and its feedback says it stands still."""
    if layout.fan_feedback is None or "fan" not in was_on:
        return None
    turning = sensors[layout.fan_feedback].good
    if turning == 1.0:
        return None
    since = now if state.fan_still_since is None else state.fan_still_since
    if now - since >= layout.chamber.limits.fan_feedback_s:
        found.append(Condition("fan-stopped", "", now - since))
    return since


class _Told(NamedTuple):
    no_heat_why: str
    record_why: str
    broker_lost: bool


def _told(state: GuardState, notices: tuple[Notice, ...], found: list[Condition]) -> _Told:
    """F16 and F20 to F24: what the shell has found out about itself."""
    no_heat_why, record_why, broker_lost = state.no_heat_why, state.record_why, state.broker_lost
    for notice in notices:
        match notice.kind:
            case "heat-forbidden":
                no_heat_why = notice.text
            case "heat-allowed":
                no_heat_why = ""
            case "record-failing":
                record_why = notice.text
            case "record-well":
                record_why = ""
            case "broker-lost":
                broker_lost = True
            case "broker-well":
                broker_lost = False
            case "keeper-lost":
                key = "keeper-dying" if notice.value >= KEEPER_LOSSES_TO_TRIP else "keeper-lost"
                found.append(Condition(key, "", notice.value))
            case "reader-lost":
                found.append(Condition("reader-lost", notice.text, 1.0))
            case "crash-loop":
                found.append(Condition("crash-loop", "", notice.value))
            case _:
                pass
    if record_why:
        found.append(Condition("record-failing", record_why))
    if broker_lost:
        found.append(Condition("broker-lost"))
    return _Told(no_heat_why, record_why, broker_lost)


def _bands(layout: Layout, run: Run, sensors: tuple[SensorState, ...], found: list[Condition]) -> None:
    """F4 for the other sensors, F17 and F22: step overrun and safe bands of the step in force."""
    step = current_step(run)
    if run.phase not in ACTIVE or step is None:
        return
    for i, sensor in enumerate(sensors):
        if i != layout.air and sensor.quality != "fresh":
            found.append(Condition("sensor-missing", layout.chamber.sensors[i].name))
    if layout.air is not None:
        if step.watch_only and sensors[layout.air].quality != "fresh":
            found.append(Condition("sensor-missing", _air_name(layout)))
        air_c = sensors[layout.air].good
        if air_c is not None and _outside(air_c, step.safe_air_low_c, step.safe_air_high_c) and (step.watch_only or run.dwell_s > 0.0):
            found.append(Condition("air-out-of-safe-band", step.name, air_c))
    if layout.humidity is not None:
        rh_pct = sensors[layout.humidity].good
        if rh_pct is not None and _outside(rh_pct, step.safe_rh_low_pct, step.safe_rh_high_pct):
            found.append(Condition("humidity-out-of-safe-band", step.name, rh_pct))
    if step.ends.dwell_h is not None and run.step_s > (1.5 * step.ends.dwell_h + 1.0) * HOUR_S:
        found.append(Condition("step-overrun", step.name, run.step_s / HOUR_S))


def _outside(value: float, low: float | None, high: float | None) -> bool:
    return (low is not None and value < low) or (high is not None and value > high)
