"""Reading a rise at full power: when to cut back, what holds the setpoint, and what kind of chamber this is.

A rise from rest is a reaction curve. Its steepest tangent meets the starting level one delay after the start. From the
steepest place to now the slope falls by the levels' difference over the time constant. And the slope that full power
has at the room's temperature, against the slope it would still have at the setpoint, gives the share that holds there.
"""

from __future__ import annotations

from dryward.core.chamber import Control, Plant
from dryward.core.frozen import frozen
from dryward.core.heat_state import Climb, Learned, Trace, follow_s, share

TELLING_K = 15.0  # rise over which the fall of the slope tells the time constant
COLD_K = 20.0  # a rise that begins so far below the setpoint began at rest
CAREFUL = 1.2  # a delay read off one rise is taken this much longer
MORE_DELAY = 1.6  # a tuned delay is believed to have grown by so much at most
SHORTEST_DELAY_S, LONGEST_DELAY_S = 10.0, 180.0  # what one rise is believed to tell
LEAST_TRUSTED_DELAY_S = 30.0  # element and walls hide part of the delay at first: steer as if it were at least this
SHORTEST_TAU_S, LONGEST_TAU_S = 150.0, 6000.0
QUIET = 1.5  # delays to wait after the change to holding
GUESS, MOST_EARLY_K = 0.02, 1.0  # likely mistake of the first duty, and how early that makes the change at most


@frozen
class Outlook:
    """What a rise says now. ``need`` is the share that will hold the setpoint."""

    climb: Climb
    arrives: bool
    need: float
    delay_s: float
    seen: Plant | None


def look_ahead(
    control: Control,
    plant: Plant,
    learned: Learned,
    climb: Climb | None,
    trace: Trace,
    *,
    aim_c: float,
    ambient_c: float,
    holds: float,
    now: float,
) -> Outlook:
    """Read the rise so far. ``plant`` is what the loop works by, ``holds`` the share of power that is thought to hold the setpoint."""
    slope = trace.slope_k_per_s
    lag_s = follow_s(slope)
    climb = _climbed(climb, trace, lag_s, now)
    steepest = climb.steepest_k_per_s
    tau_s, delay_s = plant.time_constant_s, plant.delay_s
    cold = not learned.known and aim_c - climb.from_c > COLD_K and steepest > 0.0
    if cold:
        told_k = trace.level_c - 2.0 * lag_s * slope - climb.at_c
        if told_k > TELLING_K and slope < steepest:
            tau_s = min(max(told_k / (steepest - slope), SHORTEST_TAU_S), LONGEST_TAU_S)
        if control.plant is None:
            delay_s = min(max(climb.delay_s * CAREFUL, SHORTEST_DELAY_S), LONGEST_DELAY_S)
        else:
            delay_s = min(max(climb.delay_s * CAREFUL, delay_s), MORE_DELAY * delay_s)
    full = steepest + (climb.at_c - ambient_c) / tau_s if steepest > 0.0 else plant.gain_k / plant.time_constant_s
    error_k = aim_c - trace.level_c
    # Full power slows down: the smoothed slope is two smoothing times old, and it falls on from here to the setpoint.
    slope *= tau_s / (tau_s + 2.0 * lag_s)
    age_s = now - climb.from_s - delay_s
    if cold and lag_s < age_s < 6.0 * lag_s:
        # The smoothing has not caught up with so fast a chamber yet: take the chord, bent as a time constant bends it.
        slope = max(slope, (trace.level_c - climb.from_c) / age_s * (1.0 - 0.5 * age_s / tau_s))
    elif not cold:
        # Much of a short rise is still under way unseen; a load that is drier than it was takes less of it.
        takes = min(holds, (aim_c - ambient_c) / plant.gain_k)
        slope = max(slope, (1.0 - takes) * plant.gain_k / tau_s)
    there = slope - error_k / tau_s
    need = share(1.0 - there / full) if cold else holds
    # The first duty is a guess: be a little early rather than late, by what a small mistake does until it is seen.
    early_k = 0.0 if learned.known else min(MOST_EARLY_K, GUESS * full * (QUIET * delay_s + 2.0 * control.cycle_s))
    left_k = error_k - early_k
    unseen_s = delay_s + 0.5 * need * control.cycle_s
    if not cold:  # no more is under way than has been given
        unseen_s = min(unseen_s, now - climb.from_s)
    arrives = left_k <= 0.5 * (slope + there) * unseen_s or left_k <= 0.0
    seen = learned.seen
    if cold and arrives:
        seen = Plant(
            gain_k=min(max(full * tau_s, 2.0), 2000.0),
            time_constant_s=tau_s,
            dead_time_s=max(delay_s, LEAST_TRUSTED_DELAY_S),
        )
    return Outlook(climb, arrives, need, delay_s, seen)


def _climbed(climb: Climb | None, trace: Trace, lag_s: float, now: float) -> Climb:
    if climb is None:
        return Climb(now, trace.level_c)
    slope = trace.slope_k_per_s
    if slope <= climb.steepest_k_per_s:
        return climb
    # The smoothed slope belongs to the level of two smoothing times ago.
    delay_s = now - climb.from_s - (trace.level_c - climb.from_c) / slope
    return Climb(climb.from_s, climb.from_c, slope, trace.level_c - 2.0 * lag_s * slope, delay_s)
