"""What the chamber should switch on this tick: heat, cold, humidity, air. It asks; the guard decides after it."""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

from dryward.core import switch
from dryward.core.chamber import Chamber
from dryward.core.cold import NO_COLD, ColdState, cold
from dryward.core.frozen import frozen
from dryward.core.heat import halted, heat, rest
from dryward.core.heat_state import NO_HEAT, UNTUNED_CABINET, HeatState
from dryward.core.humidity import COIL_S, VentMode, dew_point_c
from dryward.core.switch import lately

ROOM_C = 20.0  # taken for the room where no sensor tells
LONGEST_TICK_S = 10.0  # a longer gap is a restart, not a tick
RAMP_WAITS_K = 4.0  # a ramp does not run further away from the air than this
HEAT_AFTER_COOL_S = 3600.0  # so long after cooling the dead zone below the setpoint is
WIDER = 4.0  # times as wide: what the cooler has undershot is left to the room to warm


@frozen
class ControlState:
    """What control remembers. ``setpoint_c`` is the setpoint now (ramped), ``duty`` the share of heat, 0..1."""

    setpoint_c: float | None = None
    duty: float = 0.0
    heat: HeatState = NO_HEAT
    cold: ColdState = NO_COLD
    heated_s: float | None = None  # when heat was last on
    ambient_c: float = ROOM_C
    last_s: float | None = None


class Demand(NamedTuple):
    """What the program asks this tick."""

    air_c: float | None = None
    ramp_k_per_h: float | None = None
    rh_pct: float | None = None
    vent: VentMode = "by-humidity"
    circulate: bool = True


class Air(NamedTuple):
    """What is known of the air this tick; None where nothing fresh is."""

    air_c: float | None = None
    rh_pct: float | None = None
    ambient_c: float | None = None
    ambient_rh_pct: float | None = None
    door_open: bool = False
    sampled_s: float | None = None  # when the air was read


NOTHING_ASKED = Demand(vent="shut", circulate=False)


def decide(
    chamber: Chamber, state: ControlState, demand: Demand | None, air: Air, has: frozenset[str], now: float
) -> tuple[frozenset[str], ControlState]:
    """Return the names of the outputs wanted on, all of them in ``has``, and the new state.

    Without a demand everything goes off, but the fan runs on after heat and a compressor finishes its shortest time.
    """
    dt_s = chamber.period_s if state.last_s is None else now - state.last_s
    if not 0.0 < dt_s <= LONGEST_TICK_S:
        dt_s = chamber.period_s
    if demand is None:
        demand = NOTHING_ASKED
    air_c = air.air_c
    ambient_c = state.ambient_c if air.ambient_c is None else air.ambient_c
    setpoint_c, rate = _setpoint(state.setpoint_c, demand.air_c, demand.ramp_k_per_h, air_c, dt_s)

    loop = _warmed(chamber, state, setpoint_c, rate, air, ambient_c, has, dt_s, now)
    heated_s = now if loop.on else state.heated_s
    room_dew_c = None
    if air.ambient_rh_pct is not None and "vent" in has:
        room_dew_c = dew_point_c(ambient_c, air.ambient_rh_pct)
    rig = cold(
        chamber, state.cold, setpoint_c=setpoint_c, rh_set_pct=demand.rh_pct, vent=demand.vent, heated_s=heated_s, air_c=air_c,
        rh_pct=air.rh_pct, ambient_c=ambient_c, room_dew_c=room_dew_c, door_open=air.door_open, has=has, now=now,
    )  # fmt: skip

    on = ["heater"] if loop.on else []
    if rig.cooler.on:
        on.append("cooler")
    if rig.humidifier.on:
        on.append("humidifier")
    if rig.dehumidifier.on:
        on.append("dehumidifier")
    # Nothing is heated, cooled or moistened in still air; an open door is not blown through without need.
    if "fan" in has and (on or _stirs(chamber, rig, demand.circulate and not air.door_open, heated_s, now)):
        on.append("fan")
    if rig.vent.on:
        on.append("vent")
    return frozenset(on), ControlState(setpoint_c, loop.duty, loop, rig, heated_s, ambient_c, now)


def _warmed(
    chamber: Chamber,
    state: ControlState,
    setpoint_c: float | None,
    rate: float,
    air: Air,
    ambient_c: float,
    has: frozenset[str],
    dt_s: float,
    now: float,
) -> HeatState:
    """Return the heat loop after this tick; in a cabinet it begins below the setpoint and leaves the rest to the cooler."""
    loop, air_c = state.heat, air.air_c
    if setpoint_c is None or air.door_open or "heater" not in has:
        return rest(loop, now=now)
    if air_c is None:
        return halted(loop, now=now)
    if "cooler" not in has:
        return heat(
            chamber,
            loop,
            setpoint_c=setpoint_c,
            rate_k_per_s=rate,
            air_c=air_c,
            ambient_c=ambient_c,
            dt_s=dt_s,
            now=now,
            sampled_s=air.sampled_s,
        )
    wider = WIDER if lately(state.cold.cooler, HEAT_AFTER_COOL_S, now) else 1.0
    floor_c = setpoint_c - chamber.control.heat_cool_gap_k * wider
    # Heat begins below its own setpoint and is over at the program's: in between the air is left alone.
    if state.cold.cooler.on or air_c > (floor_c if loop.phase == "off" else setpoint_c):
        return rest(loop, now=now)
    return heat(
        chamber,
        loop,
        setpoint_c=floor_c,
        rate_k_per_s=rate,
        air_c=air_c,
        ambient_c=ambient_c,
        dt_s=dt_s,
        now=now,
        sampled_s=air.sampled_s,
        stand_in=UNTUNED_CABINET,
    )


def cut(state: ControlState, removed: frozenset[str], now: float) -> ControlState:
    """Return the state after outputs were taken away from outside (guard, restart): each counts as switched off now.

    Call it with what the guard removed, and after a restart with every output, so that a compressor's rest is kept.
    """
    loop, rig = state.heat, state.cold
    if "heater" in removed:
        loop = halted(loop, now=now)
    if "cooler" in removed:
        rig = replace(rig, cooler=switch.cut(rig.cooler, now))
    if "humidifier" in removed:
        rig = replace(rig, humidifier=switch.cut(rig.humidifier, now))
    if "dehumidifier" in removed:
        rig = replace(rig, dehumidifier=switch.cut(rig.dehumidifier, now))
    if "vent" in removed:
        rig = replace(rig, vent=switch.cut(rig.vent, now))
    return replace(state, duty=loop.duty, heat=loop, cold=rig)


def _stirs(chamber: Chamber, rig: ColdState, circulate: bool, heated_s: float | None, now: float) -> bool:
    """Return whether the fan runs without anything else on: to carry heat off the element, by demand, by schedule.

    And while a stopped coil gives its water back: in still air that would gather where it is coldest, as dew, and the
    sensor would not see it.
    """
    control = chamber.control
    if heated_s is not None and now - heated_s < control.fan_after_s:
        return True
    if circulate and lately(rig.cooler, COIL_S, now):
        return True
    return circulate and (control.stir_every_s <= 0.0 or now % control.stir_every_s < control.stir_s)


def _setpoint(
    at_c: float | None, goal_c: float | None, ramp_k_per_h: float | None, air_c: float | None, dt_s: float
) -> tuple[float | None, float]:
    """Return the setpoint now and how fast it moves, K/s. A ramp begins at the air and waits for it."""
    if goal_c is None or ramp_k_per_h is None or at_c == goal_c:
        return goal_c, 0.0
    if at_c is None:
        return air_c, 0.0
    if air_c is None:
        return at_c, 0.0
    rate = ramp_k_per_h / 3600.0
    if goal_c < at_c:
        rate = -rate
    ahead_k = at_c - air_c
    if (ahead_k > RAMP_WAITS_K and rate > 0.0) or (ahead_k < -RAMP_WAITS_K and rate < 0.0):
        return at_c, 0.0
    next_c = at_c + rate * dt_s
    return (goal_c if (next_c - goal_c) * rate >= 0.0 else next_c), rate
