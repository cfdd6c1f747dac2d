"""Cooler, humidifier, dehumidifier and vent: each with a band, its shortest times, and none against another."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from dryward.core.chamber import Chamber
from dryward.core.heat import allowed

Vent = Literal["shut", "open", "by-humidity"]


@dataclass(frozen=True, slots=True)
class Switch:
    """One output: wanted on or not, and since when on the chamber clock; None: not known, so count from the first tick."""

    on: bool = False
    since_s: float | None = None


OFF = Switch()

@dataclass(frozen=True, slots=True)
class ColdState:
    """What cools, moistens, dries and airs."""

    cooler: Switch = OFF
    humidifier: Switch = OFF
    dehumidifier: Switch = OFF
    vent: Switch = OFF


NO_COLD = ColdState()


def turn(chamber: Chamber, name: str, switch: Switch, *, want: bool, now: float) -> Switch:
    """Return the switch turned as wanted, or as it was while its shortest time has not passed."""
    if switch.since_s is None:
        # Nobody knows when a compressor last ran before a power cut: its rest begins now.
        return Switch(False, now)
    if want is switch.on or not allowed(chamber, name, switch.on, now - switch.since_s):
        return switch
    return Switch(want, now)


def cold(
    chamber: Chamber, s: ColdState, *, setpoint_c: float | None, rh_set_pct: float | None, vent: Vent, heating: bool,
    air_c: float | None, rh_pct: float | None, door_open: bool, has: frozenset[str], now: float,
) -> ColdState:  # fmt: skip
    """Advance the four switches by one tick. An output that is not in ``has`` stays off."""
    control = chamber.control
    cooler, humidifier, dehumidifier, flap = s.cooler, s.humidifier, s.dehumidifier, s.vent
    if "cooler" in has:
        if setpoint_c is None or air_c is None or door_open or heating:
            want = False
        else:
            want = air_c > setpoint_c if cooler.on else air_c > setpoint_c + control.cool_band_k
        if want is not cooler.on or cooler.since_s is None:
            cooler = turn(chamber, "cooler", cooler, want=want, now=now)
    band = control.rh_band_pct
    blind = rh_set_pct is None or rh_pct is None or door_open
    if "humidifier" in has:
        want = not blind and (rh_pct < rh_set_pct if humidifier.on else rh_pct < rh_set_pct - band)  # type: ignore[operator]
        if want is not humidifier.on or humidifier.since_s is None:
            humidifier = turn(chamber, "humidifier", humidifier, want=want and not dehumidifier.on, now=now)
    if "dehumidifier" in has:
        want = not blind and (rh_pct > rh_set_pct if dehumidifier.on else rh_pct > rh_set_pct + band)  # type: ignore[operator]
        if want is not dehumidifier.on or dehumidifier.since_s is None:
            dehumidifier = turn(chamber, "dehumidifier", dehumidifier, want=want and not humidifier.on, now=now)
    if "vent" in has:
        if vent != "by-humidity":
            want = vent == "open"
        elif rh_set_pct is None:
            want = True  # nothing to hold: the moisture has to leave
        elif rh_pct is None:
            want = flap.on
        else:
            want = rh_pct > (rh_set_pct if flap.on else rh_set_pct + band)
        if want is not flap.on or flap.since_s is None:
            flap = turn(chamber, "vent", flap, want=want, now=now)
    if cooler is s.cooler and humidifier is s.humidifier and dehumidifier is s.dehumidifier and flap is s.vent:
        return s
    return ColdState(cooler, humidifier, dehumidifier, flap)
