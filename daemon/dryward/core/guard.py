"""The guard: everything that can take heat away. It never adds any, and it has the last word but one (the keeper's).

Order of thought in each tick: is the control reading good; is anything too hot; do the sensors agree; does the air do
what the heater's state says it should; do fan and contactor obey; are the bands kept; what has the shell reported.
Windows and budgets live in ``watch``; what is said and whether it latches stands in ``faults``; debounce, latch,
acknowledgement and reset are ``alarms``.
"""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

from dryward.core import watch as w
from dryward.core.alarms import Condition
from dryward.core.commands import Event
from dryward.core.faults import FAULTS
from dryward.core.frozen import frozen
from dryward.core.inputs import Notice
from dryward.core.layout import Layout
from dryward.core.phases import ACTIVE, MAY_HEAT
from dryward.core.program import Step
from dryward.core.progress import HOUR_S, Run, current_step, highest_c, target_air_c, top_air_c
from dryward.core.trust import SensorState

KEEPER_LOSSES_TO_TRIP = 3
HOTTER_THAN_ANY_ROOM_C = 35.0
HOTTER_THAN_THIS_ROOM_K = 5.0
COMMISSIONED = "commissioning: checks run, heat is never given"


@frozen
class Told:
    """What the shell has said about itself and not taken back."""

    no_heat_why: str = ""  # its own reason never to heat, such as outputs that outlive their process
    record_why: str = ""
    broker_lost: bool = False


NOTHING_TOLD = Told()


@frozen
class GuardState:
    """What the guard carries from tick to tick; times on the chamber clock, s."""

    watch: w.Watch = w.FRESH
    heating_since: float | None = None  # since when heat may be wanted; a reading is awaited from then on
    disagree_since: float | None = None
    fan_still_since: float | None = None
    door_open_since: float | None = None
    told: Told = NOTHING_TOLD
    heating_s: float = 0.0  # the heater's time on in this run


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
    swing_c: float | None = None,
    duty: float,
    dt_s: float,
    now: float,
) -> Verdict:
    """Judge one tick. ``was_on`` are the outputs as they have been since the last tick, ``duty`` what control asks.

    ``swing_c``: where a relay test swings; its step stands above that, and only from there down is F9's.
    """
    limits = layout.chamber.limits
    found: list[Condition] = []
    air_c = None if layout.air is None else sensors[layout.air].good
    target_c = target_air_c(run)
    heater_on = "heater" in was_on
    heating_s = state.heating_s + dt_s if heater_on else state.heating_s
    heating_since = None
    if target_c is not None and run.phase in MAY_HEAT:
        heating_since = now if state.heating_since is None else state.heating_since
    no_heat = _control_reading(layout, run, sensors, heating_since, found, now)
    _over_limit(layout, run, sensors, target_c, found, now)
    disagree_since, hot_c = _disagreement(layout, state, sensors, found, now)
    door_since = _door(layout, state, sensors, found, now)
    if air_c is None:
        watch = w.blind(state.watch, heater_on=heater_on, fan_on="fan" in was_on, now=now)
    else:
        seen = w.Seen(
            air_c, air_c if hot_c is None else hot_c, _room_c(layout, sensors), None if heating_since is None else setpoint_c,
            target_c if swing_c is None else swing_c, duty, heater_on, "fan" in was_on, heating_s,
            door_since is not None, layout.door is not None,
        )  # fmt: skip
        watch = w.follow(state.watch, limits, layout.chamber.control.plant, seen, dt_s=dt_s, now=now)
        no_heat = _response(layout, watch, sensors, seen, found, now) or no_heat
    fan_since, fan_why = _fan(layout, state, sensors, was_on, found, now)
    _contactor(layout, sensors, was_on, found)
    _bands(layout, run, sensors, found)
    told = _told(state.told, notices, found)
    no_heat = no_heat or told.no_heat_why or fan_why
    if limits.commissioning:
        no_heat = COMMISSIONED
    after = GuardState(watch, heating_since, disagree_since, fan_since, door_since, told, heating_s)
    cap = heating_s >= limits.max_heating_h * HOUR_S and run.phase in ACTIVE
    return Verdict(after, no_heat, tuple(found), cap, watch.below_ks > 0.0)


def after_restart(state: GuardState) -> GuardState:
    """Return what outlives a restart: the time heated. The shell tells the rest again."""
    return GuardState(heating_s=state.heating_s)


def notes(notices: tuple[Notice, ...]) -> tuple[Event, ...]:
    """Return what is only noted of the shell's notices: nothing that control depends on (F19)."""
    noted: list[Event] = []
    for notice in notices:
        if notice.kind == "clock-stepped":
            text = f"The wall clock moved by {notice.value:+.0f} s. The chamber's own clock did not; control goes on."
            noted.append(Event(kind=notice.kind, text=text, value=notice.value))
        elif notice.kind == "skipped-ticks":
            noted.append(
                Event(
                    kind=notice.kind,
                    text=f"{notice.value:.0f} decisions came too late and were left out.",
                    value=notice.value,
                )
            )
        elif notice.kind == "request-refused":
            noted.append(Event(kind=notice.kind, text=notice.text))
    return tuple(noted)


def _control_reading(
    layout: Layout,
    run: Run,
    sensors: tuple[SensorState, ...],
    heating_since: float | None,
    found: list[Condition],
    now: float,
) -> str:
    """F4 and F5: without a fresh, plausible reading there is no heat; a minute without one trips."""
    if layout.air is None:
        return "there is no control sensor"
    air, limits = sensors[layout.air], layout.chamber.limits
    if air.quality == "fresh" and now - air.sampled_s <= limits.heat_stale_s:
        return ""
    name = layout.chamber.sensors[layout.air].name
    if heating_since is not None:
        missing_s = now - max(air.sampled_s, heating_since)
        found.append(Condition("air-missing", name, missing_s))
        if missing_s >= limits.trip_stale_s:
            found.append(Condition("air-lost", name, missing_s))
    elif run.phase in ACTIVE and air.quality != "fresh":  # a slow logger is enough where nothing heats
        found.append(Condition("sensor-missing", name))
    return f"no good reading from {name} ({air.why or air.quality})"


def _over_limit(
    layout: Layout,
    run: Run,
    sensors: tuple[SensorState, ...],
    target_c: float | None,
    found: list[Condition],
    now: float,
) -> None:
    """F11: any air sensor above the absolute limit in two agreeing samples, believed or not."""
    limits = layout.chamber.limits
    for i in layout.airs:
        sensor = sensors[i]
        raw, before = sensor.raw, sensor.raw_before
        if raw is None or before is None:
            continue
        if target_c is not None and raw <= target_c + limits.over_top_step_k and raw <= limits.max_air_c:
            continue  # nearly always: the hottest step is no cooler than the one in force
        if (
            min(raw, before) > _limit_c(layout, run)
            and abs(raw - before) <= limits.jump_k
            and now - sensor.raw_s <= limits.trip_stale_s
        ):
            found.append(Condition("over-limit", layout.chamber.sensors[i].name, raw))


def _limit_c(layout: Layout, run: Run) -> float:
    """Return the air temperature that nothing may pass: the chamber's own, or a little above the hottest step."""
    top_c = top_air_c(run.program) if run.program is not None and run.phase in ACTIVE else None
    return highest_c(layout.chamber.limits, top_c)


def _disagreement(
    layout: Layout, state: GuardState, sensors: tuple[SensorState, ...], found: list[Condition], now: float
) -> tuple[float | None, float | None]:
    """F14: since when air sensors differ; once that has lasted, the hotter one counts for the setpoint's limit too."""
    if len(layout.airs) < 2:
        return None, None
    limits = layout.chamber.limits
    good = [v for i in layout.airs if (v := sensors[i].good) is not None]
    spread_k = max(good) - min(good) if good else 0.0
    if spread_k > limits.disagree_k:
        since = now if state.disagree_since is None else state.disagree_since
        if now - since < limits.disagree_s:
            return since, None
        found.append(Condition("air-disagrees", "", spread_k))
        return since, max(good)
    if spread_k > limits.disagree_k - FAULTS["air-disagrees"].dead_band:
        found.append(Condition("air-disagrees", "", spread_k, near=True))
    return None, None


def _door(
    layout: Layout, state: GuardState, sensors: tuple[SensorState, ...], found: list[Condition], now: float
) -> float | None:
    """F22: the door, and since when it is open."""
    if layout.door is None or sensors[layout.door].value != 1.0:
        return None
    since = now if state.door_open_since is None else state.door_open_since
    if now - since >= layout.chamber.limits.door_open_s:
        found.append(Condition("door-open", "", (now - since) / 60.0))
    return since


def _response(
    layout: Layout, watch: w.Watch, sensors: tuple[SensorState, ...], seen: w.Seen, found: list[Condition], now: float
) -> str:
    """F6 to F10, F12, F13: does the air do what the heater's state says it should? Return a reason against heat."""
    limits, plant, air_c = layout.chamber.limits, layout.chamber.control.plant, seen.air_c
    why = ""
    stands = w.stands_still(watch, limits, plant, heated_s=seen.heated_s, now=now)
    if stands:
        why = "the air's reading does not move: the heat waits until it does"
        if stands == "stuck":
            found.append(Condition("air-stuck", layout.chamber.sensors[layout.airs[0]].name, air_c))
    if watch.push is not None:
        if w.no_response(watch, limits, plant, room_c=seen.room_c, now=now):
            found.append(Condition("no-heat-response", "", air_c))
        # Air that is warm and falls towards the room's may be a dead heater or weak mains, not swapped sensors.
        if w.falls_at_full_power(watch, limits, now=now) and not _heated(layout, sensors, air_c):
            found.append(Condition("reversed", "", air_c))
    spent = w.spent_in_vain(watch, limits, plant, now=now)
    if spent:
        why = "much heat and no rise: the heat waits, to see whether the air falls without it"
        if spent == "vain":
            found.append(Condition("no-heat-near-target", "", air_c))
    if watch.below_ks >= limits.below_band_ks:
        found.append(Condition("below-band", "", air_c))
        if watch.below_ks >= 3.0 * limits.below_band_ks:
            found.append(Condition("below-band-long", "", air_c))
    if w.rises_while_off(watch, limits, air_c=air_c) and _heated(layout, sensors, seen.hot_c):
        found.append(Condition("heat-while-off", "", air_c))
    over_since_s = watch.band.over_since_s
    if over_since_s is not None and now - over_since_s >= limits.over_setpoint_s:
        why = "the air is too far above its setpoint"
        found.append(Condition("too-hot-for-step", "", seen.hot_c))
        if watch.band.over_s >= limits.over_setpoint_trip_s and _heated(layout, sensors, seen.hot_c):
            found.append(Condition("over-setpoint", "", seen.hot_c))
    return why


def _heated(layout: Layout, sensors: tuple[SensorState, ...], air_c: float) -> bool:
    """Say whether the air is warmer than a room makes it: a cool cabinet warms by itself when its cooler rests."""
    if "heater" not in layout.has:
        return False
    room_c = None if layout.ambient is None else sensors[layout.ambient].good
    return air_c > (HOTTER_THAN_ANY_ROOM_C if room_c is None else room_c + HOTTER_THAN_THIS_ROOM_K)


def _room_c(layout: Layout, sensors: tuple[SensorState, ...]) -> float:
    room_c = None if layout.ambient is None else sensors[layout.ambient].good
    return w.UNTUNED_ROOM_C if room_c is None else room_c


def _fan(
    layout: Layout,
    state: GuardState,
    sensors: tuple[SensorState, ...],
    was_on: frozenset[str],
    found: list[Condition],
    now: float,
) -> tuple[float | None, str]:
    """F15: the fan is switched on and its feedback says it stands still, or nothing at all."""
    if layout.fan_feedback is None or "fan" not in was_on:
        return None, ""
    turning = sensors[layout.fan_feedback].good
    if turning == 1.0:
        return None, ""
    since = now if state.fan_still_since is None else state.fan_still_since
    if now - since < layout.chamber.limits.fan_feedback_s:
        return since, ""
    if turning is None:
        return since, "nothing says that the fan turns"
    found.append(Condition("fan-stopped", "", now - since))
    return since, "the fan stands still"


def _contactor(
    layout: Layout, sensors: tuple[SensorState, ...], was_on: frozenset[str], found: list[Condition]
) -> None:
    """F7 and F12: a master contactor that reports its state and does not obey."""
    if layout.contactor_feedback is None:
        return
    closed = sensors[layout.contactor_feedback].good
    if closed == 1.0 and "contactor" not in was_on:
        found.append(Condition("contactor-welded"))
    elif closed == 0.0 and "contactor" in was_on:
        found.append(Condition("contactor-open"))


def _told(told: Told, notices: tuple[Notice, ...], found: list[Condition]) -> Told:
    """F4 and F20 to F24: what the shell has found out about itself."""
    for notice in notices:
        match notice.kind:
            case "heat-forbidden":
                told = replace(told, no_heat_why=notice.text or "heat is forbidden")
            case "heat-allowed":
                told = replace(told, no_heat_why="")
            case "record-failing":
                told = replace(told, record_why=notice.text or "the reason is not known")
            case "record-well":
                told = replace(told, record_why="")
            case "broker-lost" | "broker-well":
                told = replace(told, broker_lost=notice.kind == "broker-lost")
            case "keeper-lost":
                key = "keeper-dying" if notice.value >= KEEPER_LOSSES_TO_TRIP else "keeper-lost"
                found.append(Condition(key, "", notice.value))
            case "reader-lost":
                found.append(Condition("reader-lost", notice.text))
            case "crash-loop":
                found.append(Condition("crash-loop", "", notice.value))
            case _:
                pass
    if told.record_why:
        found.append(Condition("record-failing", detail=told.record_why))
    if told.broker_lost:
        found.append(Condition("broker-lost"))
    return told


def _bands(layout: Layout, run: Run, sensors: tuple[SensorState, ...], found: list[Condition]) -> None:
    """F4 for the other sensors, F17 and F22: step overrun and safe bands of the step in force."""
    step = current_step(run)
    if run.phase not in ACTIVE or step is None:
        return
    for i, sensor in enumerate(sensors):
        if sensor.quality != "fresh" and i != layout.air:
            found.append(Condition("sensor-missing", layout.chamber.sensors[i].name))
    if layout.air is not None and (step.watch_only or run.dwell_s > 0.0):
        _outside(
            "air-out-of-safe-band",
            step.name,
            sensors[layout.air].good,
            step.safe_air_low_c,
            step.safe_air_high_c,
            found,
        )
    if layout.humidity is not None:
        low_pct = step.safe_rh_low_pct
        if low_pct is None:
            low_pct = layout.chamber.humidity_low_pct or None
        rh_pct = sensors[layout.humidity].good
        _outside("humidity-out-of-safe-band", step.name, rh_pct, low_pct, step.safe_rh_high_pct, found)
    expected_h = _expected_h(run, step)
    if expected_h is not None and run.step_s > (1.5 * expected_h + 1.0) * HOUR_S:
        found.append(Condition("step-overrun", step.name, run.step_s / HOUR_S))


def _expected_h(run: Run, step: Step) -> float | None:
    """Return how long the step in force should take, ramp and dwell; None when only weights or cores can tell."""
    if step.ends.dwell_h is None:
        return None
    if step.ramp_k_per_h is None or step.air_c is None:
        return step.ends.dwell_h
    before_c = run.program.steps[run.step_index - 1].air_c if run.program is not None and run.step_index else None
    from_c = w.UNTUNED_ROOM_C if before_c is None else before_c
    return step.ends.dwell_h + abs(step.air_c - from_c) / step.ramp_k_per_h


def _outside(
    key: str, subject: str, value: float | None, low: float | None, high: float | None, found: list[Condition]
) -> None:
    """Note a value outside its band; one inside by less than the dead band only keeps the alarm that there is."""
    if value is None or (low is None and high is None):
        return
    above = max(-1e9 if low is None else low - value, -1e9 if high is None else value - high)
    if above > -FAULTS[key].dead_band:
        found.append(Condition(key, subject, value, near=above <= 0.0))
