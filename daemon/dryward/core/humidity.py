"""Humidifier, dehumidifier and vent: one band around the setpoint, and none works against another.

The air of a cabinet is light: it holds a few grams of water, and its humidity answers within a minute, faster than a
sensor. So the humidifier works in puffs, both then wait for the sensor and stop half way to the setpoint, and neither
works soon after the other. A cooler's coil is the exception: in minutes it takes a tenth of the air's water and, once
stopped, gives it back. While it takes, puffs follow soon; while it gives, drying begins at the setpoint. The vent helps
when the room's air, by its dew point, is drier or moister in the right sense.
"""

from __future__ import annotations

from math import exp, log
from typing import Literal

from dryward.core.chamber import Control
from dryward.core.frozen import frozen
from dryward.core.switch import Switch, due, lately

VentMode = Literal["shut", "open", "by-humidity"]

PUFF_WAIT_S = 60.0  # a puff has spread and the sensor has followed
AGAINST_S = 600.0  # so long after one has worked, the other does not work against it
COIL_TAKES_S = 60.0  # a stopped coil is cold enough to take water for so long,
COIL_S = 240.0  # and has given it back after so long
COIL_WAIT_S = 10.0  # between two puffs while a coil takes water
ROOM_HELPS_K = 0.5  # difference of dew points from which the room's air changes anything
SURFACE_S = 7200.0  # pieces follow the air so slowly
SURFACE_EVERY_S = 60.0
WALL_SHARE = 0.2  # of the way from the air to a colder room, a wall's inner face is taken to be


@frozen
class Surface:
    """How warm the pieces are taken to be: the air, slowly followed; ``wet_c`` while they are wet: its wet bulb."""

    piece_c: float
    at_s: float
    wet_c: float | None = None

    def dewed(self, dew_c: float, margin_k: float) -> bool:
        """Return whether air of this dew point would leave dew on them. At rest it never does: no margin on the wet bulb."""
        return dew_c > self.piece_c - margin_k or (self.wet_c is not None and dew_c > self.wet_c)


@frozen
class Moisture:
    """The humidity of this tick. ``above_pct`` None: no setpoint or no reading; ``near_dew``: dew would soon fall.

    ``excess_pct``: the same as the humidity that this air would have at the temperature asked for. After a door the air is
    warm, looks dry and is not.
    """

    above_pct: float | None
    dew_c: float | None
    near_dew: bool
    excess_pct: float


NOTHING_HELD = Moisture(None, None, False, 0.0)


def dew_point_c(air_c: float, rh_pct: float) -> float:
    """Return the dew point by the Magnus formula over water (coefficients of Sonntag 1990, as WMO-No. 8 gives them)."""
    x = log(max(rh_pct, 0.1) / 100.0) + 17.62 * air_c / (243.12 + air_c)
    return 243.12 * x / (17.62 - x)


def wet_bulb_c(air_c: float, rh_pct: float, pressure_pa: float) -> float:
    """Return the wet bulb by the aspirated psychrometer's formula (WMO-No. 8, annex 4.B), above freezing."""
    dew_c = dew_point_c(air_c, rh_pct)
    vapour_hpa = _saturation_hpa(dew_c)
    low, high = dew_c, air_c
    for _ in range(14):  # to 0.006 K, however dry
        wet_c = 0.5 * (low + high)
        short_hpa = 6.53e-6 * (1.0 + 0.000944 * wet_c) * pressure_pa * (air_c - wet_c)
        low, high = (low, wet_c) if _saturation_hpa(wet_c) - short_hpa > vapour_hpa else (wet_c, high)
    return 0.5 * (low + high)


def _saturation_hpa(at_c: float) -> float:
    return 6.112 * exp(17.62 * at_c / (243.12 + at_c))


def moisture(
    control: Control,
    surface: Surface | None,
    *,
    rh_set_pct: float | None,
    air_c: float | None,
    rh_pct: float | None,
    ambient_c: float,
    setpoint_c: float | None = None,
) -> Moisture:
    """Return where the humidity stands against its setpoint and against the coldest surface."""
    if rh_set_pct is None or rh_pct is None:
        return NOTHING_HELD
    above = rh_pct - rh_set_pct
    if air_c is None:
        return Moisture(above, None, False, above)
    dew_c = dew_point_c(air_c, rh_pct)
    wall_c = min(air_c, air_c - WALL_SHARE * (air_c - ambient_c))
    near = dew_c > wall_c - control.dew_margin_k
    near = near or (surface is not None and surface.dewed(dew_c, control.dew_margin_k))
    excess = above
    if setpoint_c is not None:
        excess = rh_pct * _saturation_hpa(air_c) / _saturation_hpa(setpoint_c) - rh_set_pct
    return Moisture(above, dew_c, near, excess)


def coil_does(cooler: Switch, now: float) -> Literal["takes", "gives", "rests"]:
    """Return what the cooler's coil does with the water of the air."""
    if lately(cooler, COIL_TAKES_S, now):
        return "takes"
    return "gives" if lately(cooler, COIL_S, now) else "rests"


def moistens(
    control: Control,
    m: Moisture,
    *,
    humidifier: Switch,
    dehumidifier: Switch,
    cooler: Switch,
    door_open: bool,
    now: float,
) -> bool:
    """Return whether the humidifier is wanted: a puff at a time."""
    if (
        m.above_pct is None
        or m.near_dew
        or m.excess_pct >= 0.0
        or door_open
        or due(control.airing_every_s, control.airing_s, now)
    ):
        return False
    coil = coil_does(cooler, now)
    if coil == "gives":
        return False
    from_pct, wait_s = (-0.5, COIL_WAIT_S) if coil == "takes" else (-1.0, PUFF_WAIT_S)
    if humidifier.on:
        return m.above_pct < -0.5 * control.rh_band_pct and now - (humidifier.since_s or now) < control.puff_s
    if dehumidifier.on or m.above_pct >= from_pct * control.rh_band_pct or lately(humidifier, wait_s, now):
        return False
    return coil == "takes" or not lately(dehumidifier, AGAINST_S, now)


def dries(
    control: Control,
    m: Moisture,
    *,
    humidifier: Switch,
    dehumidifier: Switch,
    cooler: Switch,
    cooler_near: bool,
    door_open: bool,
    now: float,
) -> bool:
    """Return whether the dehumidifier is wanted. Before dew falls it may follow the humidifier at once.

    ``cooler_near``: the cooler runs or soon will, and its coil dries more than enough.
    """
    if m.above_pct is None or door_open or humidifier.on:
        return False
    if m.near_dew:
        return True
    band = control.rh_band_pct
    if coil_does(cooler, now) == "gives":
        return m.above_pct > (-band if dehumidifier.on else 0.0)
    if lately(humidifier, AGAINST_S, now) and not lately(cooler, COIL_TAKES_S + AGAINST_S, now):
        return False  # a puff for a coil does not count: its water comes back
    if m.above_pct > 1.5 * band or m.excess_pct > 3.0 * band:
        return True
    if dehumidifier.on:
        return m.above_pct > 0.5 * band
    return m.above_pct > band and not cooler_near and not lately(dehumidifier, PUFF_WAIT_S, now)


def airs(
    control: Control, m: Moisture, surface: Surface | None, *, vent: Switch, dehumidifier: Switch, mode: VentMode, held: bool, room_dew_c: float | None,
    cabinet: bool, now: float,
) -> bool:  # fmt: skip
    """Return whether the vent is wanted open. ``held``: the step holds a humidity; ``cabinet``: there is cold to keep in."""
    if mode == "shut":
        return False
    if surface is not None and room_dew_c is not None and surface.dewed(room_dew_c, control.dew_margin_k):
        return False  # room air that would leave dew on the pieces stays outside
    if mode == "open" or due(control.airing_every_s, control.airing_s, now):
        return True
    if not held:
        return not cabinet  # a hot dryer's moisture has to leave, a cabinet keeps its cold
    if m.above_pct is None:
        return vent.on
    reach = (0.0 if vent.on else 1.0) * control.rh_band_pct
    if room_dew_c is None or m.dew_c is None:
        return m.above_pct > reach
    if m.above_pct > reach:
        return room_dew_c < m.dew_c - ROOM_HELPS_K
    return (
        cabinet
        and not lately(dehumidifier, AGAINST_S, now)
        and m.above_pct < -reach
        and room_dew_c > m.dew_c + ROOM_HELPS_K
    )


def followed(surface: Surface | None, air_c: float, now: float, *, rh_pct: float | None, pressure_pa: float) -> Surface:
    """Let the pieces follow the air, once a minute."""
    if surface is not None and 0.0 <= now - surface.at_s < SURFACE_EVERY_S:
        return surface
    bulb_c = None if rh_pct is None else wet_bulb_c(air_c, rh_pct, pressure_pa)
    if surface is None or now < surface.at_s:
        return Surface(air_c, now, bulb_c)
    passed_s = now - surface.at_s
    share = passed_s / (SURFACE_S + passed_s)
    wet_c = surface.wet_c
    if bulb_c is not None:
        wet_c = bulb_c if wet_c is None else wet_c + share * (bulb_c - wet_c)
    return Surface(surface.piece_c + share * (air_c - surface.piece_c), now, wet_c)
