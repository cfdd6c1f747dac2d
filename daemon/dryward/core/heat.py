"""Steady heat from a relay: full power while far away, then a slow on-off cycle whose share of time is steered.

Theory of operation. Three phases:

- **rise**: full power, until what has been given but is not yet seen will carry the air to the setpoint (heat_rise).
- **fall**: no power, the mirror image, after the setpoint was lowered.
- **hold**: cycles of about ``cycle_s``. Each begins with its on-part. At the end of a cycle the *mean* error of that
  cycle moves the share by a PI law: a whole cycle's mean holds neither the ripple of the relay nor much of the noise.
  Air that is far too hot ends it at once, in the middle of a cycle.

After a rest (door, missing readings) what was given before it and is not yet seen counts as if it had arrived.

The PI figures are the SIMC rules on the plant, with the delay that the cycle itself adds. After the change to holding
the share first stands still until its effect shows; two cycles then tell by their drift what the load really needs.
"""

from __future__ import annotations

from dataclasses import replace
from math import ceil

from dryward.core.answer import Answer, disturbed, listened, powered, wave
from dryward.core.chamber import Chamber, Plant
from dryward.core.heat_rise import COLD_K, QUIET, look_ahead
from dryward.core.heat_state import (
    LOOK_S,
    NO_CYCLE,
    UNTUNED,
    Cycle,
    HeatState,
    Learned,
    Trace,
    followed,
    loop_figures,
    share,
)
from dryward.core.switch import allowed

SURE = 1.3  # full power is worth it when the error is this many times what the delay would hide
LEAST_NEED, MOST_NEED = 0.6, 1.8  # times what the plant's figures say: beyond that it is the noise of the reading
OVERSHOT_K = 3.0  # so far above, waiting for the end of a cycle would be too long
CREST = 0.75  # share of a cycle's swing that may stand above the setpoint
MOST_SEEN = 0.2  # change of duty that two cycles in a noisy reading can prove
SMALLEST_K = 2.0  # and never for less than this
TREND_S = 1000.0  # a step of the trim that is repeated for so long becomes its trend
TREND_FADES_S = 3600.0  # a trend that nothing confirms is over in about so long
SOAK_S = 3000.0  # time in which walls and load have taken up their heat (common practice, no source)
BRISK_S = 3600.0  # after a change of level, walls and load need an hour or so to follow
CALM_K, CALM_MOVE_K = 1.5, 0.15  # a cycle to be listened to is this near its aim, and near the one before
AWAY_K = 1.0  # an error that has to be brought home first
COMING_HOME = 3.0  # closed-loop times for which an error is being worked off, and says nothing about the load


def heat(
    chamber: Chamber, s: HeatState, *, setpoint_c: float, rate_k_per_s: float, air_c: float, ambient_c: float, dt_s: float, now: float,
    sampled_s: float | None = None, stand_in: Plant = UNTUNED,
) -> HeatState:  # fmt: skip
    """Advance the heat loop by one tick and return its new state; ``on`` says whether heat is wanted.

    ``rate_k_per_s`` is how fast the setpoint is being ramped now; ``sampled_s`` is when the air was read, None: now;
    ``stand_in`` serves before tuning.
    """
    learned = s.learned
    plant = chamber.control.plant or learned.seen or stand_in
    trace = followed(s.trace, air_c, dt_s, sampled_s)
    # A reading follows a ramp one delay late: it is asked for where the setpoint was then.
    aim_c = setpoint_c - rate_k_per_s * (plant.dead_time_s + plant.lag_s)
    if s.phase == "hold":
        over_k = trace.level_c - aim_c
        if over_k > OVERSHOT_K and over_k > CREST * _swing_k(chamber, learned.seen or plant):
            return _all(chamber, s, _humbled(learned, trace, plant, setpoint_c - ambient_c, now), trace, False, now)
        cycle = s.cycle
        age_s = now - cycle.from_s
        error_k = aim_c - air_c
        re, im = wave(age_s, cycle.length_s, error_k, dt_s)
        cycle = Cycle(
            cycle.from_s, cycle.length_s, cycle.give_s, cycle.given_s + dt_s if s.on else cycle.given_s, cycle.owed_s,
            cycle.error_ks + error_k * dt_s, cycle.over_s + dt_s, cycle.wave_re + re, cycle.wave_im + im,
        )  # fmt: skip
        if age_s < cycle.length_s - 0.5 * dt_s:
            on, switched_s = _turned(chamber, s, age_s + 0.5 * dt_s < cycle.give_s, now)
            return HeatState("hold", learned, trace, None, cycle, s.duty, on, switched_s)
    base = (setpoint_c - ambient_c + rate_k_per_s * plant.time_constant_s) / plant.gain_k
    if s.phase == "hold":
        owed_s = cycle.owed_s + cycle.give_s - cycle.given_s
        if cycle.over_s < LOOK_S:
            return _hold(chamber, s, learned, trace, s.duty, owed_s, now, cycle)
        duty, learned = _corrected(chamber, learned, plant, cycle, duty=s.duty, base=base, now=now)
        if now - cycle.length_s > learned.brisk_until_s and not rate_k_per_s:
            answer = powered(learned.answer, s.duty, cycle.length_s, setpoint_c)
            if _calm(cycle, s.learned.before_k):
                answer = _heard(chamber, plant, answer, cycle)
            learned = replace(learned, answer=answer)
        return _choose(chamber, s, learned, trace, plant, cycle.error_ks / cycle.over_s, duty, owed_s, now)
    if s.phase == "rise":
        return _rise(
            chamber, s, trace, plant, aim_c=aim_c, setpoint_c=setpoint_c, ambient_c=ambient_c,
            holds=share(base + learned.trim), now=now,
        )  # fmt: skip
    kc, _ = loop_figures(chamber.control, plant)
    error_k = aim_c - trace.level_c
    duty = share(base + learned.trim)
    if s.phase == "off":  # what was given before the rest is still under way, and counts as if it were there
        error_k -= s.before * plant.gain_k / plant.time_constant_s * max(plant.delay_s - (now - s.switched_s), 0.0)
        duty = share(base + learned.trim + kc * error_k)
    if s.phase == "fall" and trace.level_c > max(aim_c, aim_c - trace.slope_k_per_s * plant.delay_s):
        return _all(chamber, s, learned, trace, False, now)
    if s.phase == "fall":
        return _hold(chamber, s, _waiting(learned, plant.delay_s, now), trace, duty, 0.0, now)
    chosen = _choose(chamber, s, learned, trace, plant, error_k, duty, 0.0, now)
    # What was given before the rest may still be under way.
    return replace(chosen, learned=_waiting(learned, plant.delay_s, now)) if chosen.phase == "hold" else chosen


def rest(s: HeatState, *, now: float) -> HeatState:
    """Return the loop with heat off and what it learned kept: door open, no reading, nothing asked."""
    if s.phase == "off" and not s.on:
        return s
    learned = replace(s.learned, answer=disturbed(s.learned.answer))
    return HeatState(learned=learned, switched_s=now if s.on else s.switched_s, before=s.duty)


def halted(s: HeatState, *, now: float) -> HeatState:
    """Return the loop with its heater taken away for a moment: a cycle that holds goes on, and goes on learning."""
    if s.phase != "hold":
        return rest(s, now=now)
    return replace(s, on=False, switched_s=now) if s.on else s


def _rise(
    chamber: Chamber,
    s: HeatState,
    trace: Trace,
    plant: Plant,
    *,
    aim_c: float,
    setpoint_c: float,
    ambient_c: float,
    holds: float,
    now: float,
) -> HeatState:
    """Go on at full power, or change to holding when what is on its way suffices."""
    control, learned = chamber.control, s.learned
    outlook = look_ahead(
        control, plant, learned, s.climb, trace, aim_c=aim_c, ambient_c=ambient_c, holds=holds, now=now
    )
    if not outlook.arrives:
        if learned.known and outlook.climb.strains(aim_c, (1.0 - holds) * plant.gain_k / plant.time_constant_s, now):
            learned = replace(learned, answer=replace(learned.answer, verdict="power-short"))
        on, switched_s = _turned(chamber, s, True, now)
        return HeatState("rise", learned, trace, outlook.climb, NO_CYCLE, 1.0, on, switched_s)
    base = (setpoint_c - ambient_c) / (control.plant or outlook.seen or plant).gain_k
    trim = learned.trim if learned.known else min(max(outlook.need, LEAST_NEED * base), MOST_NEED * base) - base
    learned = replace(learned, trim=trim, seen=outlook.seen, before_k=None)
    return _hold(chamber, s, _waiting(learned, outlook.delay_s, now), trace, share(base + trim), 0.0, now)


def _choose(
    chamber: Chamber,
    s: HeatState,
    learned: Learned,
    trace: Trace,
    plant: Plant,
    error_k: float,
    duty: float,
    owed_s: float,
    now: float,
) -> HeatState:
    """Begin the next cycle, or leave holding where the error is so large that only full or no power makes sense."""
    if now < learned.quiet_until_s:
        return _hold(chamber, s, learned, trace, duty, owed_s, now)
    reach_k = SURE * plant.gain_k / plant.time_constant_s * (plant.delay_s + 0.5 * chamber.control.cycle_s)
    if error_k > COLD_K:
        # So long a rise says more about today's load than what was learned of the last one.
        learned = replace(learned, trim=0.0, known=False, trend_per_s=0.0, before_k=None)
    if error_k > max(SMALLEST_K, (1.0 - duty) * reach_k):
        return _all(chamber, s, learned, trace, True, now)
    if error_k < -max(SMALLEST_K, duty * reach_k):
        return _all(chamber, s, learned, trace, False, now)
    return _hold(chamber, s, learned, trace, duty, owed_s, now)


def _humbled(learned: Learned, trace: Trace, plant: Plant, above_k: float, now: float) -> Learned:
    """Return what is known after far too much: the share is taken less by what still rises.

    What still rises soon after a rise may be that rise, and then says nothing against a share that was seen to hold.
    """
    if learned.known and now < learned.quiet_until_s:
        return learned
    base = above_k / plant.gain_k
    less = min(max(trace.slope_k_per_s, 0.0) * plant.time_constant_s / plant.gain_k, MOST_SEEN)
    return replace(learned, trim=max(learned.trim - less, min(learned.trim, (LEAST_NEED - 1.0) * base)))


def _swing_k(chamber: Chamber, plant: Plant) -> float:
    """Return the most that one cycle of the relay moves the air."""
    return 0.25 * plant.gain_k * chamber.control.cycle_s / plant.time_constant_s


def _all(chamber: Chamber, s: HeatState, learned: Learned, trace: Trace, on: bool, now: float) -> HeatState:
    """Give all power or none."""
    turned, switched_s = _turned(chamber, s, on, now)
    return HeatState("rise" if on else "fall", learned, trace, None, NO_CYCLE, 1.0 if on else 0.0, turned, switched_s)


def _hold(
    chamber: Chamber,
    s: HeatState,
    learned: Learned,
    trace: Trace,
    duty: float,
    owed_s: float,
    now: float,
    summed: Cycle = NO_CYCLE,
) -> HeatState:
    """Begin a cycle with its on-part, and with the error summed before if that still goes on."""
    length_s, give_s, owed_s = portion(chamber, duty, owed_s)
    on, switched_s = _turned(chamber, s, give_s > 0.0, now)
    return HeatState(
        "hold",
        learned,
        trace,
        None,
        Cycle(now, length_s, give_s, 0.0, owed_s, summed.error_ks, summed.over_s),
        duty,
        on,
        switched_s,
    )


def _waiting(learned: Learned, delay_s: float, now: float) -> Learned:
    """Return what is known with its next corrections put off until the change of power shows."""
    quiet_s = now + QUIET * delay_s
    return replace(
        learned,
        quiet_until_s=quiet_s,
        learn_from_s=quiet_s + COMING_HOME * delay_s,
        brisk_until_s=now + BRISK_S,
        trend_per_s=0.0,
    )


def _corrected(
    chamber: Chamber, learned: Learned, plant: Plant, cycle: Cycle, *, duty: float, base: float, now: float
) -> tuple[float, Learned]:
    """Return the next duty and what is known, after a whole cycle."""
    if now - cycle.over_s < learned.quiet_until_s - 0.5 * chamber.period_s:
        return duty, learned
    error_k, over_s = cycle.error_ks / cycle.over_s, cycle.over_s
    trim, before_k = learned.trim, learned.before_k
    kc, ti_s = loop_figures(chamber.control, plant)
    # A heater that a cold start has shown to be stronger than it was tuned is handled more gently.
    kc *= (
        min(1.0, plant.gain_k / plant.time_constant_s * learned.seen.time_constant_s / learned.seen.gain_k)
        if learned.seen
        else 1.0
    )
    closed_s = plant.time_constant_s / (kc * plant.gain_k)
    # While the air comes home from a known error, calmly, what the proportional part does is no lasting need.
    left_s = learned.learn_from_s - now
    shrinks = before_k is not None and 0.0 < error_k * before_k < before_k * before_k
    homing = left_s > 0.0 and (shrinks or left_s > (COMING_HOME - 1.0) * closed_s)
    if not homing and now < learned.brisk_until_s:
        kc, ti_s = loop_figures(chamber.control, plant, brisk=True)
    if not learned.known:
        if before_k is None:
            return duty, replace(learned, before_k=error_k)
        trim = _second_look(
            _faster(learned.seen, plant), duty=duty, base=base, error_k=error_k, before_k=before_k, over_s=over_s
        )
        home_s = now + COMING_HOME * closed_s if abs(error_k) > AWAY_K else now
        # What it takes above the plant's own need goes into walls and load, and will fall as they warm.
        trend = -max(trim, 0.0) / SOAK_S
        return share(base + trim + kc * error_k), replace(
            learned, trim=trim, known=True, learn_from_s=home_s, trend_per_s=trend, before_k=error_k
        )
    step = 0.0 if homing else kc * error_k * over_s / ti_s
    # While walls and load warm, the need falls all the time: then the trim has a trend. Later it would only swing along.
    warming = now < learned.brisk_until_s
    trend = learned.trend_per_s * (1.0 - over_s / TREND_FADES_S) + step / TREND_S if warming else 0.0
    step += trend * over_s
    wish = base + trim + kc * error_k + step
    # Anti-windup: at either end, learn only what leads back into the range.
    if (wish < 1.0 or step < 0.0) and (wish > 0.0 or step > 0.0):
        trim += step
    else:
        trend = 0.0
    return share(wish), replace(learned, trim=trim, trend_per_s=trend, before_k=error_k)


def _calm(cycle: Cycle, before_k: float | None) -> bool:
    """Return whether the mean hardly moved from the cycle before: a drift would pass for ripple."""
    error_k = cycle.error_ks / cycle.over_s
    return before_k is not None and abs(error_k) < CALM_K and abs(error_k - before_k) < CALM_MOVE_K


def _heard(chamber: Chamber, plant: Plant, answer: Answer, cycle: Cycle) -> Answer:
    """Return the chamber's answer with this cycle in it. Short cycles make no ripple that a sensor could show."""
    if cycle.length_s < LOOK_S or abs(cycle.given_s - cycle.give_s) > chamber.period_s:
        return answer
    return listened(
        answer,
        chamber.control,
        plant,
        re=cycle.wave_re,
        im=cycle.wave_im,
        given_s=cycle.given_s,
        length_s=cycle.length_s,
        tick_s=chamber.period_s,
    )


def _faster(seen: Plant | None, plant: Plant) -> Plant:
    """Return the figures of the stronger answer: a rise with walls and load tells less than how the air itself moves."""
    if seen is None or plant.gain_k * seen.time_constant_s > seen.gain_k * plant.time_constant_s:
        return plant
    return seen


def _second_look(plant: Plant, *, duty: float, base: float, error_k: float, before_k: float, over_s: float) -> float:
    """Return the trim that two cycles under the same duty show: what still drifts is too much or too little power."""
    full = plant.gain_k / plant.time_constant_s
    drift = (before_k - error_k) / over_s
    change = min(max(error_k / plant.gain_k - drift / full, -MOST_SEEN), MOST_SEEN)
    return share(duty + change) - base


def _turned(chamber: Chamber, s: HeatState, want: bool, now: float) -> tuple[bool, float]:
    """Return the heater's state and since when, its shortest times kept."""
    if want is s.on or not allowed(chamber, "heater", s.on, now - s.switched_s):
        return s.on, s.switched_s
    return want, now


def portion(chamber: Chamber, duty: float, owed_s: float) -> tuple[float, float, float]:
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
    cycle_s = max(cycle_s, least_on_s + least_off_s)
    # What is owed goes into the length, not into the ticks: a changing number of ticks shows in the air.
    if duty <= 0.5:
        on_s = _ticks(duty * cycle_s, owed_s, least_on_s, tick_s)
        length_s = (
            _stretched((on_s - owed_s) / duty, max(cycle_s, on_s + least_off_s), tick_s) if on_s > 0.0 else cycle_s
        )
    else:
        off_s = _ticks((1.0 - duty) * cycle_s, -owed_s, least_off_s, tick_s)
        length_s = (
            _stretched((off_s + owed_s) / (1.0 - duty), max(cycle_s, off_s + least_on_s), tick_s)
            if off_s > 0.0
            else cycle_s
        )
        on_s = length_s - off_s
    owed_s += duty * length_s - on_s
    return length_s, on_s, min(max(owed_s, -cycle_s), cycle_s)


def _ticks(wish_s: float, owed_s: float, least_s: float, tick_s: float) -> float:
    """Return the ticks for a part of the cycle: none while too much was given before, else at least what the relay needs."""
    return ceil(max(wish_s, least_s) / tick_s - 1e-6) * tick_s if wish_s + owed_s > 0.0 else 0.0


def _stretched(wish_s: float, cycle_s: float, tick_s: float) -> float:
    """Return a cycle of whole ticks, never shorter than meant and at most twice as long."""
    return max(round(min(wish_s, 2.0 * cycle_s) / tick_s), ceil(cycle_s / tick_s - 1e-6)) * tick_s
