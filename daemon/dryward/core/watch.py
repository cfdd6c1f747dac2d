"""What the guard remembers from tick to tick about the air and the heater: the windows behind F6 to F13.

Each function takes the watch of the tick before and returns what is wrong now. Nothing here can give heat.

An open door explains almost everything: while it is open, and for some minutes after, no window is judged and the
references start anew.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp

from dryward.core.chamber import Limits, Plant

TRAIL_EVERY_S = 20.0
TRAIL_LENGTH = 11
DOOR_REST_S = 300.0
FULL_DUTY = 0.95
FAR_FROM_TARGET_K = 25.0
"""Nearer than this a healthy chamber may be slow; there the budget of full-power seconds judges instead."""
REFERENCE_RISE_K_PER_S = 0.2 / 60.0
REFERENCE_FALL_S = 600.0
UNTUNED_OFF_WAIT_S = 100.0
STUCK_SWITCHES = 4
"""Changes of the heater inside the window before a reading that stands still is suspect."""


@dataclass(frozen=True, slots=True)
class Watch:
    """Times on the chamber clock in s, temperatures in degC. None means: not running."""

    sampled_s: float = -1.0e9
    trail: tuple[tuple[float, float], ...] = ()
    heater_on: bool = False
    full_since: float | None = None
    full_from_c: float = 0.0
    powered_s: float = 0.0  # full-power seconds without 1 K of rise
    powered_from_c: float | None = None
    off_since: float | None = None
    off_reference_c: float | None = None
    setpoint_c: float | None = None
    been_in_band: bool = False
    below_ks: float = 0.0
    over_armed: bool = False
    over_since: float | None = None
    still_c: float | None = None
    still_since: float = 0.0
    still_switches: int = 0
    quiet_until: float = -1.0e9  # door: judge nothing before


FRESH = Watch()


def follow_air(
    watch: Watch,
    limits: Limits,
    *,
    air_c: float,
    sampled_s: float,
    hottest_c: float,
    setpoint_c: float | None,
    duty: float,
    heater_on: bool,
    off_wait_s: float,
    quiet_until: float,
    dt_s: float,
    now: float,
) -> Watch:
    """Return the watch after this tick. ``duty`` is the heater's demand, 0 when vetoed; ``heater_on`` the output."""
    if now < quiet_until:
        return Watch(heater_on=heater_on, setpoint_c=setpoint_c, been_in_band=watch.been_in_band, quiet_until=quiet_until)
    trail = watch.trail
    if not trail or now - trail[-1][0] >= TRAIL_EVERY_S:
        trail = (*trail[1 - TRAIL_LENGTH :], (now, air_c))
    full_since, full_from_c = watch.full_since, watch.full_from_c
    if duty >= FULL_DUTY and heater_on:
        if full_since is None:
            full_since, full_from_c = now, air_c
    else:
        full_since = None
    powered_s, powered_from_c = _powered(watch, air_c, setpoint_c, heater_on, dt_s)
    off_since, off_reference_c = _off(watch, air_c, heater_on, off_wait_s, dt_s, now)
    been, below_ks = _below(watch, limits, trail, air_c, setpoint_c, dt_s, now)
    armed, over_since = _over(watch, limits, hottest_c, setpoint_c, now)
    still_c, still_since, switches = watch.still_c, watch.still_since, watch.still_switches
    if still_c is None or abs(air_c - still_c) > limits.stuck_k + 1e-9:
        still_c, still_since, switches = air_c, now, 0
    elif heater_on != watch.heater_on:
        switches += 1
    return Watch(
        sampled_s,
        trail,
        heater_on,
        full_since,
        full_from_c,
        powered_s,
        powered_from_c,
        off_since,
        off_reference_c,
        setpoint_c,
        been,
        below_ks,
        armed,
        over_since,
        still_c,
        still_since,
        switches,
        quiet_until,
    )


def _powered(
    watch: Watch, air_c: float, setpoint_c: float | None, heater_on: bool, dt_s: float
) -> tuple[float, float | None]:
    """F8: heater-on seconds below the setpoint without 1 K of rise above the lowest value since."""
    if setpoint_c is None or air_c >= setpoint_c - 1.0:
        return 0.0, None
    lowest_c = watch.powered_from_c
    if lowest_c is None or air_c >= lowest_c + 1.0:
        return 0.0, air_c
    return watch.powered_s + (dt_s if heater_on else 0.0), min(lowest_c, air_c)


def _off(
    watch: Watch, air_c: float, heater_on: bool, off_wait_s: float, dt_s: float, now: float
) -> tuple[float | None, float | None]:
    """F12: since when the heater is off, and the level the air must not rise above.

    The level starts when the after-heat is over; it follows the air down in about ten minutes and up no faster than
    a room warms.
    """
    if heater_on:
        return None, None
    if watch.off_since is None:
        return now, None
    if now - watch.off_since < off_wait_s:
        return watch.off_since, None
    if watch.off_reference_c is None:
        return watch.off_since, air_c
    level_c = watch.off_reference_c
    if air_c < level_c:
        level_c += (air_c - level_c) * min(1.0, dt_s / REFERENCE_FALL_S)
    else:
        level_c = min(air_c, level_c + REFERENCE_RISE_K_PER_S * dt_s)
    return watch.off_since, level_c


def _below(
    watch: Watch,
    limits: Limits,
    trail: tuple[tuple[float, float], ...],
    air_c: float,
    setpoint_c: float | None,
    dt_s: float,
    now: float,
) -> tuple[bool, float]:
    """F9: kelvin-seconds below the band after having been in it; air that is on its way back up does not count."""
    if setpoint_c is None:
        return False, 0.0
    missing_k = setpoint_c - air_c
    raised = watch.setpoint_c is None or setpoint_c > watch.setpoint_c + limits.below_band_k
    been = (watch.been_in_band and not raised) or abs(missing_k) <= limits.below_band_k
    if not been or missing_k <= limits.below_band_k:
        return been, 0.0
    a_minute_ago_c = value_before(trail, now - 60.0)
    rising = a_minute_ago_c is not None and air_c > a_minute_ago_c + 0.5
    return been, watch.below_ks if rising else watch.below_ks + missing_k * dt_s


def _over(
    watch: Watch, limits: Limits, hottest_c: float, setpoint_c: float | None, now: float
) -> tuple[bool, float | None]:
    """F10: since when the air is too far above a setpoint that it had already come down to."""
    if setpoint_c is None:
        return False, None
    if hottest_c <= setpoint_c + limits.over_setpoint_k:
        return True, None
    lowered = watch.setpoint_c is None or setpoint_c < watch.setpoint_c
    if lowered or not watch.over_armed:
        return False, None
    return True, now if watch.over_since is None else watch.over_since


def value_before(trail: tuple[tuple[float, float], ...], at_s: float) -> float | None:
    """Return the newest value of the trail that is at least as old as ``at_s``, or None."""
    for t, value in reversed(trail):
        if t <= at_s:
            return value
    return None


def no_response(watch: Watch, limits: Limits, plant: Plant | None, *, air_c: float, ambient_c: float | None, now: float) -> bool:
    """F7: full power, far from the target, and the air does not answer."""
    if watch.full_since is None or watch.setpoint_c is None or watch.setpoint_c - air_c <= FAR_FROM_TARGET_K:
        return False
    window_s = limits.response_s if plant is None else max(limits.response_s, 2.0 * plant.dead_time_s + 60.0)
    settled_s = 1.5 * window_s  # the first answer has to pass the dead time
    if now - watch.full_since < settled_s:
        return False
    from_c = value_before(watch.trail, now - window_s)
    if from_c is None:
        return False
    return air_c - from_c < _expected_rise_k(limits, plant, from_c, ambient_c, window_s)


def _expected_rise_k(limits: Limits, plant: Plant | None, from_c: float, ambient_c: float | None, window_s: float) -> float:
    if plant is None:
        return limits.response_k
    room_c = 22.0 if ambient_c is None else ambient_c
    final_k = room_c + plant.gain_k - from_c
    return 0.5 * final_k * (1.0 - exp(-window_s / plant.time_constant_s))


def reversed_response(watch: Watch, limits: Limits, *, air_c: float, now: float) -> bool:
    """F13: the air falls at full power."""
    if watch.full_since is None or now - watch.full_since < 60.0:
        return False
    before_c = value_before(watch.trail, now - limits.reversed_s)
    from_c = watch.full_from_c if before_c is None or now - watch.full_since < limits.reversed_s else before_c
    return from_c - air_c > limits.reversed_k


def rises_while_off(watch: Watch, limits: Limits, *, air_c: float) -> bool:
    """F12: the heater is off, long enough for its last heat to have arrived, and the air still rises."""
    return watch.off_reference_c is not None and air_c > watch.off_reference_c + limits.off_rise_k


def off_wait_s(limits: Limits, plant: Plant | None) -> float:
    """Return how long after switching off the chamber's own after-heat is over, s."""
    return max(limits.off_rise_s, UNTUNED_OFF_WAIT_S if plant is None else 2.0 * plant.dead_time_s)


def stands_still(watch: Watch, limits: Limits, *, cycle_s: float, now: float) -> bool:
    """F6: the reading has not moved although the heater has.

    With cycles below 20 s the ripple may be smaller than the sensor's resolution: then nothing is concluded.
    """
    return (
        watch.still_c is not None
        and cycle_s >= 20.0
        and watch.still_switches >= STUCK_SWITCHES
        and now - watch.still_since >= limits.stuck_s
    )
