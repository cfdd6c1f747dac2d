"""Humidifier, dehumidifier and vent: one band around the setpoint, and none works against another.

The air of a cabinet is light: it holds a few grams of water, and its humidity answers within a minute, faster than a
sensor. So the humidifier works in puffs, both then wait for the sensor and stop half way to the setpoint, and neither
works soon after the other. Nothing moistens while the coil is cold: it would take the water and give it back later. The
vent helps when the room's air, by its dew point, is drier or moister in the right sense.
"""

from __future__ import annotations

from math import log
from typing import Literal

from dryward.core.chamber import Control
from dryward.core.frozen import frozen
from dryward.core.switch import Switch, due, lately

VentMode = Literal["shut", "open", "by-humidity"]

PUFF_WAIT_S = 60.0  # a puff has spread and the sensor has followed
AGAINST_S = 600.0  # so long after one has worked, the other does not work against it
COIL_S = 240.0  # a stopped coil gives its water back in about so long
ROOM_HELPS_K = 0.5  # difference of dew points from which the room's air changes anything
SURFACE_S = 7200.0  # pieces follow the air so slowly
SURFACE_EVERY_S = 60.0
WALL_SHARE = 0.2  # of the way from the air to a colder room, a wall's inner face is taken to be


@frozen
class Surface:
    """How warm the pieces are taken to be: the air, slowly followed."""

    piece_c: float
    at_s: float


@frozen
class Moisture:
    """The humidity of this tick. ``above_pct`` None: no setpoint or no reading; ``near_dew``: dew would soon fall."""

    above_pct: float | None
    dew_c: float | None
    near_dew: bool


NOTHING_HELD = Moisture(None, None, False)


def dew_point_c(air_c: float, rh_pct: float) -> float:
    """Return the dew point by the Magnus formula over water (coefficients of Sonntag 1990, as WMO-No. 8 gives them)."""
    x = log(max(rh_pct, 0.1) / 100.0) + 17.62 * air_c / (243.12 + air_c)
    return 243.12 * x / (17.62 - x)


def moisture(
    control: Control,
    surface: Surface | None,
    *,
    rh_set_pct: float | None,
    air_c: float | None,
    rh_pct: float | None,
    ambient_c: float,
) -> Moisture:
    """Return where the humidity stands against its setpoint and against the coldest surface."""
    if rh_set_pct is None or rh_pct is None:
        return NOTHING_HELD
    above = rh_pct - rh_set_pct
    if air_c is None:
        return Moisture(above, None, False)
    dew_c = dew_point_c(air_c, rh_pct)
    coldest_c = min(air_c, air_c - WALL_SHARE * (air_c - ambient_c), air_c if surface is None else surface.piece_c)
    return Moisture(above, dew_c, dew_c > coldest_c - control.dew_margin_k)


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
        or door_open
        or m.above_pct >= (-0.5 if humidifier.on else -1.0) * control.rh_band_pct
    ):
        return False
    if (
        lately(dehumidifier, AGAINST_S, now)
        or lately(cooler, COIL_S, now)
        or due(control.airing_every_s, control.airing_s, now)
    ):
        return False
    if humidifier.on:
        return now - (humidifier.since_s or now) < control.puff_s
    return not lately(humidifier, PUFF_WAIT_S, now)


def dries(
    control: Control,
    m: Moisture,
    *,
    humidifier: Switch,
    dehumidifier: Switch,
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
    if lately(humidifier, AGAINST_S, now):
        return False
    band = control.rh_band_pct
    if m.above_pct > 2.0 * band:
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
    if surface is not None and room_dew_c is not None and room_dew_c > surface.piece_c - control.dew_margin_k:
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


def followed(surface: Surface | None, air_c: float, now: float) -> Surface:
    """Let the pieces follow the air, once a minute."""
    if surface is None or now < surface.at_s:
        return Surface(air_c, now)
    passed_s = now - surface.at_s
    if passed_s < SURFACE_EVERY_S:
        return surface
    return Surface(surface.piece_c + passed_s / (SURFACE_S + passed_s) * (air_c - surface.piece_c), now)
