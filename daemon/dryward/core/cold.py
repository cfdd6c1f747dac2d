"""The cool cabinet: cooler, humidifier, dehumidifier and vent, each with a band, none against another.

A compressor's shortest times are kept whatever is asked: a start needs its whole rest, a stop waits for the shortest
run, and where nobody knows when it last ran (new state, power cut), its rest begins now. Schedules (airing, defrosting)
follow the chamber clock, so they need no memory and survive a restart.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import log
from typing import Literal

from dryward.core.chamber import Chamber, Control
from dryward.core.heat import allowed

VentMode = Literal["shut", "open", "by-humidity"]

SURFACE_S = 7200.0  # pieces follow the air so slowly
SURFACE_EVERY_S = 60.0
WALL_SHARE = 0.2  # of the way from the air to a colder room, a wall's inner face is taken to be


@dataclass(frozen=True, slots=True)
class Switch:
    """One output: wanted on or not, and since when on the chamber clock. None: not known, it counts from the first tick."""

    on: bool = False
    since_s: float | None = None


OFF = Switch()


@dataclass(frozen=True, slots=True)
class Surface:
    """How warm the pieces are taken to be: the air, slowly followed."""

    piece_c: float
    at_s: float


@dataclass(frozen=True, slots=True)
class ColdState:
    """What cools, moistens, dries and airs."""

    cooler: Switch = OFF
    humidifier: Switch = OFF
    dehumidifier: Switch = OFF
    vent: Switch = OFF
    surface: Surface | None = None


NO_COLD = ColdState()


def dew_point_c(air_c: float, rh_pct: float) -> float:
    """Return the dew point by the Magnus formula over water (coefficients of Sonntag 1990, as WMO-No. 8 gives them)."""
    x = log(max(rh_pct, 0.1) / 100.0) + 17.62 * air_c / (243.12 + air_c)
    return 243.12 * x / (17.62 - x)


def turn(chamber: Chamber, name: str, switch: Switch, *, want: bool, now: float) -> Switch:
    """Return the switch turned as wanted, or as it was while its shortest time has not passed."""
    if switch.since_s is None:
        return Switch(False, now)
    if want is switch.on or not allowed(chamber, name, switch.on, now - switch.since_s):
        return switch
    return Switch(want, now)


def cold(
    chamber: Chamber, s: ColdState, *, setpoint_c: float | None, rh_set_pct: float | None, vent: VentMode, heating: bool,
    air_c: float | None, rh_pct: float | None, ambient_c: float, room_dew_c: float | None, door_open: bool, has: frozenset[str], now: float,
) -> ColdState:  # fmt: skip
    """Advance the switches by one tick. An output that is not in ``has`` stays off."""
    control = chamber.control
    cooler, humidifier, dehumidifier, flap, surface = s.cooler, s.humidifier, s.dehumidifier, s.vent, s.surface
    moistens = "humidifier" in has
    dewy = False
    if air_c is not None and (moistens or "dehumidifier" in has):
        surface = _followed(surface, air_c, now)
        if rh_pct is not None:
            coldest_c = min(surface.piece_c, air_c, air_c - WALL_SHARE * (air_c - ambient_c))
            dewy = dew_point_c(air_c, rh_pct) > coldest_c - control.dew_margin_k
    if "cooler" in has:
        want = not heating and _cools(control, cooler.on, setpoint_c, air_c, door_open, now)
        cooler = turn(chamber, "cooler", cooler, want=want, now=now)
    band = control.rh_band_pct
    known = rh_set_pct is not None and rh_pct is not None
    above = rh_pct - rh_set_pct if rh_pct is not None and rh_set_pct is not None else 0.0
    airing = _due(control.airing_every_s, control.airing_s, now)
    if moistens:
        want = known and not (door_open or dewy or airing or dehumidifier.on) and above < (0.0 if humidifier.on else -band)
        humidifier = turn(chamber, "humidifier", humidifier, want=want, now=now)
    if "dehumidifier" in has:
        want = known and not (door_open or humidifier.on) and (dewy or above > (0.0 if dehumidifier.on else band))
        dehumidifier = turn(chamber, "dehumidifier", dehumidifier, want=want, now=now)
    if "vent" in has:
        if vent != "by-humidity":
            want = vent == "open"
        elif rh_set_pct is None:
            want = airing or "cooler" not in has  # a hot dryer's moisture has to leave; a cabinet keeps its cold
        elif not known:
            want = flap.on
        else:
            want = above > (0.0 if flap.on else band) or (dewy and "dehumidifier" not in has)
        if airing and vent != "shut":
            want = True
        # Room air that would leave dew on the pieces stays outside.
        want = want and not (room_dew_c is not None and surface is not None and room_dew_c > surface.piece_c - control.dew_margin_k)
        flap = turn(chamber, "vent", flap, want=want, now=now)
    if cooler is s.cooler and humidifier is s.humidifier and dehumidifier is s.dehumidifier and flap is s.vent and surface is s.surface:
        return s
    return ColdState(cooler, humidifier, dehumidifier, flap, surface)


def _cools(control: Control, runs: bool, setpoint_c: float | None, air_c: float | None, door_open: bool, now: float) -> bool:
    """Return whether cold is wanted. An open door lets no compressor start, and stops none."""
    if setpoint_c is None or air_c is None or _due(control.defrost_every_s, control.defrost_s, now):
        return False
    return air_c > setpoint_c if runs else not door_open and air_c > setpoint_c + control.cool_band_k


def _followed(surface: Surface | None, air_c: float, now: float) -> Surface:
    if surface is None or now < surface.at_s:
        return Surface(air_c, now)
    passed_s = now - surface.at_s
    if passed_s < SURFACE_EVERY_S:
        return surface
    return Surface(surface.piece_c + passed_s / (SURFACE_S + passed_s) * (air_c - surface.piece_c), now)


def _due(every_s: float, for_s: float, now: float) -> bool:
    """Return whether a scheduled time is on: at the end of every period, so that none begins with a start."""
    return every_s > 0.0 and now % every_s >= every_s - for_s
