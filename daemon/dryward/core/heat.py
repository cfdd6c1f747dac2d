"""Steady heat from a relay: full power while far away, then a slow on-off cycle whose share of time is steered.

Theory of operation. Three phases:

- **rise**: full power. The air's level and slope are followed; power is cut back when what has been given but is not
  yet seen (slope times delay) will carry the air to the setpoint. The slope at full power, early and late, also tells
  which share of the power holds the setpoint: with this load, on this day. An untuned chamber shows its delay and its
  time constant as well.
- **fall**: no power, the mirror image, after the setpoint was lowered.
- **hold**: cycles of ``cycle_s``. Each begins with its on-part. At the end of a cycle the *mean* error of that cycle
  moves the share by a PI law: a whole cycle's mean holds neither the ripple of the relay nor much of the noise.

The PI figures are the SIMC rules (Skogestad, J. Process Control 13 (2003) 291-309) on the plant, with the delay that
the cycle itself adds. What a tick or a relay's shortest time takes from a cycle is owed to the next one.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import ceil
from typing import Literal

from dryward.core.chamber import Chamber, Control, Plant

Phase = Literal["off", "rise", "fall", "hold"]

UNTUNED = Plant(gain_k=160.0, time_constant_s=900.0, dead_time_s=60.0)
"""Careful stand-in before tuning: more heater and more delay than most boxes have, so that the loop is slow, not wild."""

SURE = 1.3  # full power is worth it when the error is this many times what the delay would hide
SMALLEST_K = 2.0  # and never for less than this
TELLING_K = 15.0  # rise over which the fall of the slope tells the time constant
COLD_K = 20.0  # a rise that begins so far below the setpoint began at rest
FOLLOW_K, FOLLOW_LEAST_S, FOLLOW_MOST_S = 3.0, 6.0, 20.0  # level and slope are smoothed over a rise of so much, within these times
QUIET = 1.5  # delays to wait after the change to holding
GUESS, MOST_EARLY_K = 0.02, 1.0  # likely mistake of the first duty, and how early that makes the change at most
MORE_DELAY = 1.6  # a tuned delay is believed to have grown by so much at most
CAREFUL = 1.2  # a delay read off one rise is taken this much longer
SHORTEST_DELAY_S, LONGEST_DELAY_S = 10.0, 180.0  # what one rise is believed to tell
SHORTEST_TAU_S, LONGEST_TAU_S = 150.0, 6000.0


@dataclass(frozen=True, slots=True)
class Trace:
    """The air followed: smoothed level and slope."""

    level_c: float
    slope_k_per_s: float


@dataclass(frozen=True, slots=True)
class Climb:
    """A rise at full power: where it began, its steepest slope so far, and the level that belongs to that."""

    from_s: float
    from_c: float
    steepest_k_per_s: float = 0.0
    at_c: float = 0.0
    delay_s: float = 0.0  # where the tangent at the steepest place meets the starting level


@dataclass(frozen=True, slots=True)
class Cycle:
    """One cycle of the relay: length, on-time meant and given, what is owed after it, the error summed over it."""

    from_s: float = 0.0
    length_s: float = 0.0
    give_s: float = 0.0
    given_s: float = 0.0
    owed_s: float = 0.0
    error_ks: float = 0.0
    over_s: float = 0.0


NO_CYCLE = Cycle()


@dataclass(frozen=True, slots=True)
class HeatState:
    """Where the heat loop stands. Times on the chamber clock; ``duty`` and ``trim`` are shares of full power."""

    phase: Phase = "off"
    quiet_until_s: float = 0.0  # what was done before shows until then: do not correct it
    trim: float = 0.0  # learned share on top of the feed-forward
    known: bool = False  # the trim was learned by holding
    seen: Plant | None = None  # what a cold start showed; before tuning the loop works by it
    trace: Trace | None = None
    climb: Climb | None = None
    cycle: Cycle = field(default=NO_CYCLE)
    before_k: float | None = None  # mean error of the cycle before, while the first trim is being learned
    duty: float = 0.0
    on: bool = False
    switched_s: float = -1e9


def simc(*, gain_k: float, time_constant_s: float, delay_s: float, closed_s: float) -> tuple[float, float]:
    """Return gain, 1/K, and reset time, s, of a PI loop that is to answer with ``closed_s`` (Skogestad 2003)."""
    return time_constant_s / (gain_k * (closed_s + delay_s)), min(time_constant_s, 4.0 * (closed_s + delay_s))


def loop_figures(control: Control, plant: Plant) -> tuple[float, float]:
    """Return gain and reset time for this plant under this cycle and pace."""
    # A mean over the cycle is half a cycle old, and the share it sets is worked off over the next one.
    delay_s = plant.delay_s + 0.75 * control.cycle_s
    closed_s = plant.delay_s if control.pace == "tight" and control.plant else 3.0 * plant.delay_s
    return simc(gain_k=plant.gain_k, time_constant_s=plant.time_constant_s, delay_s=delay_s, closed_s=closed_s)


def heat(
    chamber: Chamber, s: HeatState, *, setpoint_c: float, rate_k_per_s: float, air_c: float, ambient_c: float, dt_s: float, now: float
) -> HeatState:
    """Advance the heat loop by one tick and return its new state; ``on`` says whether heat is wanted.

    ``rate_k_per_s`` is how fast the setpoint is being ramped now.
    """
    control = chamber.control
    plant = control.plant or s.seen or UNTUNED
    delay_s = plant.dead_time_s + plant.lag_s
    trace = _followed(s.trace, air_c, dt_s)
    # A reading follows a ramp one delay late: it is asked for where the setpoint was then.
    aim_c = setpoint_c - rate_k_per_s * delay_s
    base = (setpoint_c - ambient_c + rate_k_per_s * plant.time_constant_s) / plant.gain_k
    if s.phase == "hold":
        cycle = s.cycle
        age_s = now - cycle.from_s
        error_ks, over_s = cycle.error_ks + (aim_c - air_c) * dt_s, cycle.over_s + dt_s
        given_s = cycle.given_s + dt_s if s.on else cycle.given_s
        if age_s < cycle.length_s - 0.5 * dt_s:
            cycle = Cycle(cycle.from_s, cycle.length_s, cycle.give_s, given_s, cycle.owed_s, error_ks, over_s)
            on, switched_s = _turned(chamber, s, age_s + 0.5 * dt_s < cycle.give_s, now)
            return HeatState("hold", s.quiet_until_s, s.trim, s.known, s.seen, trace, None, cycle, s.before_k, s.duty, on, switched_s)
        error_k = error_ks / over_s
        duty, trim, known, before_k = s.duty, s.trim, s.known, None
        if cycle.from_s >= s.quiet_until_s:
            if known:
                duty, trim = _corrected(control, plant, base=base, trim=trim, error_k=error_k, over_s=over_s)
            elif s.before_k is None:
                before_k = error_k
            else:
                trim, known = _second_look(s.seen or plant, duty=duty, base=base, error_k=error_k, before_k=s.before_k, over_s=over_s), True
                duty = _share(base + trim + loop_figures(control, plant)[0] * error_k)
        owed_s = cycle.owed_s + cycle.give_s - given_s
        return _onward(chamber, s, plant, trace, error_k, duty=duty, trim=trim, known=known, owed_s=owed_s, before_k=before_k, now=now)
    level, slope = trace.level_c, trace.slope_k_per_s
    if s.phase == "rise":
        return _rising(chamber, s, trace, level, slope, aim_c=aim_c, base=base, ambient_c=ambient_c, now=now)
    duty = _share(base + s.trim)
    if s.phase == "off":
        return _onward(chamber, s, plant, trace, aim_c - level, duty=duty, trim=s.trim, known=s.known, owed_s=0.0, before_k=None, now=now)
    if level > aim_c - slope * delay_s and level > aim_c:
        on, switched_s = _turned(chamber, s, False, now)
        return HeatState("fall", 0.0, s.trim, s.known, s.seen, trace, None, NO_CYCLE, None, 0.0, on, switched_s)
    return _holding(chamber, s, trace, seen=s.seen, duty=duty, trim=s.trim, known=s.known, owed_s=0.0, quiet_until_s=now + QUIET * delay_s, now=now)


def rest(s: HeatState, *, now: float) -> HeatState:
    """Return the loop with heat off and what it learned kept: door open, no reading, nothing asked."""
    if s.phase == "off" and not s.on:
        return s
    return HeatState(trim=s.trim, known=s.known, seen=s.seen, switched_s=now if s.on else s.switched_s)


def follow_s(slope_k_per_s: float) -> float:
    """Return the smoothing time of level and slope: short where the air moves so fast that noise does not matter."""
    moves = abs(slope_k_per_s)
    return FOLLOW_MOST_S if moves * FOLLOW_MOST_S < FOLLOW_K else FOLLOW_LEAST_S if moves * FOLLOW_LEAST_S > FOLLOW_K else FOLLOW_K / moves


def allowed(chamber: Chamber, name: str, on: bool, since_s: float) -> bool:
    """Return whether an output that has been in its state for ``since_s`` may change it by its own shortest times."""
    for output in chamber.outputs:
        if output.name == name:
            return since_s >= (output.min_on_s if on else output.min_off_s)
    return True


def _rising(
    chamber: Chamber, s: HeatState, trace: Trace, level: float, slope: float, *, aim_c: float, base: float, ambient_c: float, now: float
) -> HeatState:
    """Go on at full power, or go over to holding when what is on its way suffices."""
    control = chamber.control
    lag_s = follow_s(slope)
    climb = s.climb or Climb(now, level)
    then_c = level - 2.0 * lag_s * slope  # the smoothed slope belongs to the level of two smoothing times ago
    if slope > climb.steepest_k_per_s:
        climb = Climb(climb.from_s, climb.from_c, slope, then_c, now - climb.from_s - (level - climb.from_c) / slope)
    steepest = climb.steepest_k_per_s
    plant = control.plant or s.seen or UNTUNED
    tau_s, delay_s = plant.time_constant_s, plant.dead_time_s + plant.lag_s
    cold = not s.known and aim_c - climb.from_c > COLD_K and steepest > 0.0
    if cold:
        if then_c - climb.at_c > TELLING_K and slope < steepest:
            tau_s = min(max((then_c - climb.at_c) / (steepest - slope), SHORTEST_TAU_S), LONGEST_TAU_S)
        if control.plant is None:
            delay_s = min(max(climb.delay_s * CAREFUL, SHORTEST_DELAY_S), LONGEST_DELAY_S)
        else:
            delay_s = min(max(climb.delay_s * CAREFUL, delay_s), MORE_DELAY * delay_s)
    full = steepest + (climb.at_c - ambient_c) / tau_s if steepest > 0.0 else plant.gain_k / plant.time_constant_s
    error_k = aim_c - level
    slope *= tau_s / (tau_s + 2.0 * lag_s)  # full power slows down: from two smoothing times ago to now,
    age_s = now - climb.from_s - delay_s
    if cold and lag_s < age_s < 6.0 * lag_s:
        # The smoothing has not caught up with so fast a chamber yet: take the chord, bent as a time constant bends it.
        slope = max(slope, (level - climb.from_c) / age_s * (1.0 - 0.5 * age_s / tau_s))
    there = slope - error_k / tau_s  # and from now to the setpoint
    need = _share(1.0 - there / full)
    # The first duty is a guess: be a little early rather than late, by what a small mistake does until it is seen.
    early_k = 0.0 if s.known else min(MOST_EARLY_K, GUESS * full * (QUIET * delay_s + 2.0 * control.cycle_s))
    if error_k - early_k > 0.5 * (slope + there) * (delay_s + 0.5 * need * control.cycle_s) and error_k > early_k:
        on, switched_s = _turned(chamber, s, True, now)
        return HeatState("rise", 0.0, s.trim, s.known, s.seen, trace, climb, NO_CYCLE, None, 1.0, on, switched_s)
    seen, trim = s.seen, s.trim
    if cold:
        seen = Plant(gain_k=min(max(full * tau_s, 2.0), 2000.0), time_constant_s=tau_s, dead_time_s=delay_s)
        base = (aim_c - ambient_c) / (control.plant or seen).gain_k
    if not s.known:
        trim = need - base
    return _holding(
        chamber, s, trace, seen=seen, duty=_share(base + trim), trim=trim, known=s.known, owed_s=0.0, quiet_until_s=now + QUIET * delay_s, now=now
    )


def _onward(
    chamber: Chamber, s: HeatState, plant: Plant, trace: Trace, error_k: float, *, duty: float, trim: float, known: bool, owed_s: float,
    before_k: float | None, now: float,
) -> HeatState:
    """Begin the next cycle, or leave holding where the error is so large that only full or no power makes sense."""
    reach_k = SURE * plant.gain_k / plant.time_constant_s * (plant.delay_s + 0.5 * chamber.control.cycle_s)
    if error_k > max(SMALLEST_K, (1.0 - duty) * reach_k):
        on, switched_s = _turned(chamber, s, True, now)
        return HeatState("rise", 0.0, trim, known, s.seen, trace, None, NO_CYCLE, None, 1.0, on, switched_s)
    if error_k < -max(SMALLEST_K, duty * reach_k):
        on, switched_s = _turned(chamber, s, False, now)
        return HeatState("fall", 0.0, trim, known, s.seen, trace, None, NO_CYCLE, None, 0.0, on, switched_s)
    return _holding(chamber, s, trace, seen=s.seen, duty=duty, trim=trim, known=known, owed_s=owed_s, quiet_until_s=s.quiet_until_s, before_k=before_k, now=now)


def _holding(
    chamber: Chamber, s: HeatState, trace: Trace, *, seen: Plant | None, duty: float, trim: float, known: bool, owed_s: float,
    quiet_until_s: float, before_k: float | None = None, now: float,
) -> HeatState:
    """Begin a cycle with its on-part."""
    length_s, give_s, owed_s = _portion(chamber, duty, owed_s)
    on, switched_s = _turned(chamber, s, give_s > 0.0, now)
    return HeatState("hold", quiet_until_s, trim, known, seen, trace, None, Cycle(now, length_s, give_s, 0.0, owed_s), before_k, duty, on, switched_s)


def _second_look(plant: Plant, *, duty: float, base: float, error_k: float, before_k: float, over_s: float) -> float:
    """Return the trim that two cycles under the same duty show: what still drifts is too much or too little power."""
    full = plant.gain_k / plant.time_constant_s
    drift = (before_k - error_k) / over_s
    return duty - drift / full + error_k / plant.gain_k - base


def _corrected(control: Control, plant: Plant, *, base: float, trim: float, error_k: float, over_s: float) -> tuple[float, float]:
    """Return duty and trim after a cycle with the mean error ``error_k``."""
    kc, ti_s = loop_figures(control, plant)
    step = kc * error_k * over_s / ti_s
    wish = base + trim + kc * error_k + step
    # Anti-windup: at either end, learn only what leads back into the range.
    if (wish < 1.0 or step < 0.0) and (wish > 0.0 or step > 0.0):
        trim += step
    return _share(wish), trim


def _followed(trace: Trace | None, air_c: float, dt_s: float) -> Trace:
    """Follow level and slope without lagging behind a straight rise (critically damped alpha-beta filter)."""
    if trace is None:
        return Trace(air_c, 0.0)
    keep = 1.0 - dt_s / (follow_s(trace.slope_k_per_s) + dt_s)
    ahead_c = trace.level_c + trace.slope_k_per_s * dt_s
    off_k = air_c - ahead_c
    return Trace(ahead_c + (1.0 - keep * keep) * off_k, trace.slope_k_per_s + (1.0 - keep) * (1.0 - keep) * off_k / dt_s)


def _turned(chamber: Chamber, s: HeatState, want: bool, now: float) -> tuple[bool, float]:
    """Return the heater's state and since when, its shortest times kept."""
    if want is s.on or not allowed(chamber, "heater", s.on, now - s.switched_s):
        return s.on, s.switched_s
    return want, now


def _portion(chamber: Chamber, duty: float, owed_s: float) -> tuple[float, float, float]:
    """Return length and on-time of a cycle that ticks and relay can do, and what stays owed to the next.

    The shorter part is made of whole ticks, then the cycle is stretched until the share is right: rounding the on-time
    of a fixed cycle instead would swing an overpowered chamber by half a kelvin.
    """
    cycle_s, tick_s = chamber.control.cycle_s, chamber.period_s
    if duty <= 0.0 or duty >= 1.0:
        return cycle_s, duty * cycle_s, 0.0
    least_on_s = least_off_s = 0.0
    for output in chamber.outputs:
        if output.name == "heater":
            least_on_s, least_off_s = output.min_on_s, output.min_off_s
    if duty <= 0.5:
        on_s = _ticks(duty * cycle_s + owed_s, least_on_s, tick_s)
        length_s = _stretched((on_s - owed_s) / duty, cycle_s, tick_s) if on_s > 0.0 else cycle_s
    else:
        off_s = _ticks((1.0 - duty) * cycle_s - owed_s, least_off_s, tick_s)
        length_s = _stretched((off_s + owed_s) / (1.0 - duty), cycle_s, tick_s) if off_s > 0.0 else cycle_s
        on_s = length_s - off_s
    owed_s += duty * length_s - on_s
    return length_s, on_s, min(max(owed_s, -cycle_s), cycle_s)


def _ticks(wish_s: float, least_s: float, tick_s: float) -> float:
    """Return whole ticks for a part of the cycle, none or at least the shortest the relay may do."""
    return 0.0 if wish_s <= 0.0 else ceil(max(wish_s, least_s) / tick_s - 1e-6) * tick_s


def _stretched(wish_s: float, cycle_s: float, tick_s: float) -> float:
    return round(min(max(wish_s, cycle_s), 2.0 * cycle_s) / tick_s) * tick_s


def _share(x: float) -> float:
    return 0.0 if x < 0.0 else 1.0 if x > 1.0 else x
