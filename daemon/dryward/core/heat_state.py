"""What the heat loop remembers, and the figures it works by."""

from __future__ import annotations

from typing import Literal

from dryward.core.answer import NO_ANSWER, Answer
from dryward.core.chamber import Control, Plant
from dryward.core.frozen import frozen

Phase = Literal["off", "rise", "fall", "hold"]

UNTUNED = Plant(gain_k=160.0, time_constant_s=900.0, dead_time_s=60.0)
"""Careful stand-in before tuning: more heater and more delay than most boxes have, so that the loop is slow, not wild."""

UNTUNED_CABINET = Plant(gain_k=40.0, time_constant_s=2400.0, dead_time_s=90.0)
"""The same for a cool cabinet: a small heater in a well-walled box that it warms slowly."""

# Level and slope are smoothed over about so much rise, within these times: a fast chamber leaves no time for more.
FOLLOW_K, FOLLOW_LEAST_S, FOLLOW_MOST_S = 3.0, 6.0, 20.0
SURPRISED_S = 8.0  # a reading this far off, in these seconds, counts as a slope: the air has turned

STRAIN_S = 1800.0  # full power for longer than this, and three times what it should take, is no warming up
LOOK_S = 30.0  # shortest time over which a mean error is taken


@frozen
class Trace:
    """The air followed: smoothed level and slope."""

    level_c: float
    slope_k_per_s: float
    sampled_s: float | None = None  # the newest sample in it


@frozen
class Climb:
    """A rise at full power: where it began, its steepest slope so far, and the level that belongs to that."""

    from_s: float
    from_c: float
    steepest_k_per_s: float = 0.0
    at_c: float = 0.0
    delay_s: float = 0.0  # where the tangent at the steepest place meets the starting level

    def strains(self, aim_c: float, slope_k_per_s: float, now: float) -> bool:
        """Return whether full power has taken far longer than its slope, known from holding, would need."""
        return now - self.from_s > STRAIN_S + 3.0 * max(aim_c - self.from_c, 0.0) / max(slope_k_per_s, 1e-4)


@frozen
class Cycle:
    """One cycle of the relay: length, on-time meant and given, what is owed after it. And the error summed so far.

    Cycles shorter than ``LOOK_S`` share one sum: the mean of a few readings would be noise.
    """

    from_s: float = 0.0
    length_s: float = 0.0
    give_s: float = 0.0
    given_s: float = 0.0
    owed_s: float = 0.0
    error_ks: float = 0.0
    over_s: float = 0.0
    wave_re: float = 0.0  # first Fourier term of this cycle's reading
    wave_im: float = 0.0


@frozen
class Learned:
    """What the loop knows of its load. ``trim`` is a share of full power on top of the feed-forward."""

    trim: float = 0.0
    known: bool = False  # the trim was seen while holding, not guessed
    seen: Plant | None = None  # what a cold start showed; before tuning the loop works by it
    quiet_until_s: float = 0.0  # what was done before shows until then: a cycle that begins earlier corrects nothing
    brisk_until_s: float = 0.0  # walls and load are still taking up heat or giving it back: the loop follows tightly
    learn_from_s: float = 0.0  # until then the trim stands, and only the proportional part works
    trend_per_s: float = 0.0  # how the trim keeps moving: a drying load needs less and less
    before_k: float | None = None  # mean error before
    answer: Answer = NO_ANSWER  # how the chamber answers its heater


NOTHING_LEARNED = Learned()
NO_CYCLE = Cycle()


@frozen
class HeatState:
    """Where the heat loop stands. Times on the chamber clock; ``duty`` is a share of full power."""

    phase: Phase = "off"
    learned: Learned = NOTHING_LEARNED
    trace: Trace | None = None
    climb: Climb | None = None
    cycle: Cycle = NO_CYCLE
    duty: float = 0.0
    on: bool = False
    switched_s: float = -1e9
    before: float = 0.0  # off: the share that was given until then


NO_HEAT = HeatState()


def simc(*, gain_k: float, time_constant_s: float, delay_s: float, closed_s: float) -> tuple[float, float]:
    """Return gain, 1/K, and reset time, s, of a PI loop that is to answer with ``closed_s``.

    Source: S. Skogestad, Simple analytic rules for model reduction and PID controller tuning, J. Process Control 13 (2003).
    """
    return time_constant_s / (gain_k * (closed_s + delay_s)), min(time_constant_s, 4.0 * (closed_s + delay_s))


def loop_figures(control: Control, plant: Plant, *, brisk: bool = False) -> tuple[float, float]:
    """Return gain and reset time for this plant under this cycle and pace; ``brisk`` is tight whatever the pace."""
    # A mean over the cycle is half a cycle old, and the share it sets is worked off over the next one.
    delay_s = plant.delay_s + 0.75 * max(control.cycle_s, LOOK_S)
    closed_s = plant.delay_s if brisk or control.pace == "tight" else 3.0 * plant.delay_s
    return simc(gain_k=plant.gain_k, time_constant_s=plant.time_constant_s, delay_s=delay_s, closed_s=closed_s)


def follow_s(slope_k_per_s: float, off_k: float = 0.0) -> float:
    """Return the smoothing time of level and slope; a reading far off what was foreseen asks for a short one."""
    moves = max(abs(slope_k_per_s), abs(off_k) / SURPRISED_S)
    if moves * FOLLOW_MOST_S < FOLLOW_K:
        return FOLLOW_MOST_S
    return max(FOLLOW_LEAST_S, FOLLOW_K / moves)


def followed(trace: Trace | None, air_c: float, dt_s: float, sampled_s: float | None = None) -> Trace:
    """Follow level and slope without lagging behind a straight rise (critically damped alpha-beta filter).

    A value sampled no later than the one before moves nothing: the level goes on by its slope. None: sampled now.
    """
    if trace is None:
        return Trace(air_c, 0.0, sampled_s)
    slope = trace.slope_k_per_s
    ahead_c = trace.level_c + slope * dt_s
    gap_s = dt_s if sampled_s is None or trace.sampled_s is None else sampled_s - trace.sampled_s
    if gap_s <= 0.0:
        return Trace(ahead_c, slope, trace.sampled_s)
    off_k = air_c - ahead_c
    move = gap_s / (follow_s(slope, off_k) + gap_s)
    return Trace(ahead_c + move * (2.0 - move) * off_k, slope + move * move * off_k / gap_s, sampled_s)


def share(x: float) -> float:
    """Return ``x`` within 0 and 1."""
    return 0.0 if x < 0.0 else 1.0 if x > 1.0 else x
