"""Whether the chamber still answers its own heater as it used to: slow re-identification while a run goes on.

Every cycle of the relay is a small experiment: a pulse of heat, a ripple in the reading. The ratio of the two at the
cycle's own frequency (its first Fourier term) hardly depends on setpoint, load or drying, which change slowly; it does
depend on the heater's power (size of the answer) and on the way of the air from element to sensor (its delay). The first
hours are kept as the measure. Later hours that differ for long say so: a weaker answer that comes as early as before is
the heater, one that comes later is the fan, the air path or the sensor's place.

A heater that has to work nearly all the time makes no ripple. So the power itself is watched too: at one setpoint, with
the door shut, what it takes falls as things dry and warm; a sudden third more is no weather.
"""

from __future__ import annotations

from dataclasses import replace
from math import atan2, cos, hypot, pi, sin
from typing import Literal

from dryward.core.alarms import Condition
from dryward.core.chamber import Control, Plant
from dryward.core.frozen import frozen

Verdict = Literal["", "power-short", "takes-more", "heater-weaker", "air-slower", "heater-stronger", "sensor-nearer"]

HEAR_S = 3600.0  # an answer is the mean of about so much time
MEASURE_S = 7200.0  # of which the first two hours are the measure
CLEAR_K = 0.08  # a ripple of this size is heard to 4 % in that time through 0.1 K of noise; a smaller one takes longer
ALIKE = 0.05  # of the cycle: what two cycles in a row may differ by
LONGEST = 1.08  # against the cycle meant
LEAST_PULSE = 0.04  # of the cycle: less heat or less pause than so makes no ripple to hear
SLOWEST = 16.0
WEAKER, STRONGER, LATER_RAD = (
    0.75,
    1.35,
    0.35,
)  # against the measure; a heater at 60 %, a fan at half speed are well beyond
TAKES_MORE, AND_SHARE = 1.35, 0.03  # against the usual share of power; a room 10 K colder or mains 6 % lower stay below
KNOWN_S, USUAL_S, RECENT_S, PATIENCE_S = 3600.0, 14_400.0, 900.0, 1800.0
HESITATES, HESITANT = 1.12, 8.0
SATURATED = 0.97
SAME_K = 0.2
BACK = 0.6  # a verdict is taken back within this part of the bounds


@frozen
class Answer:
    """Sums of the ratio of reading to heat, fading, and the measure. ``odd_s``: how long it has been out of bounds."""

    plant_k: float = 0.0  # gain and cycle this belongs to: others begin anew
    cycle_s: float = 0.0
    re: float = 0.0
    im: float = 0.0
    weight: float = 0.0
    heard_s: float = 0.0
    measure_re: float = 0.0
    measure_im: float = 0.0
    length_s: float = 0.0  # the cycle before: only cycles like it are steady enough to be heard
    given_s: float = 0.0
    odd_s: float = 0.0
    usual: float = 0.0  # share of power that holding takes, slowly and quickly averaged, and how long it has been held
    recent: float = 0.0
    held_s: float = 0.0
    more_s: float = 0.0
    at_c: float = -273.15  # the setpoint that is held
    verdict: Verdict = ""


NO_ANSWER = Answer()
OF_POWER: tuple[Verdict, ...] = ("power-short", "takes-more")


def wave(age_s: float, length_s: float, error_k: float, dt_s: float) -> tuple[float, float]:
    """Return what one tick adds to the first Fourier term of a cycle, for a reading ``error_k`` below its aim."""
    angle = 2.0 * pi * age_s / length_s
    return -error_k * cos(angle) * dt_s, error_k * sin(angle) * dt_s


def listened(
    answer: Answer,
    control: Control,
    plant: Plant,
    *,
    re: float,
    im: float,
    given_s: float,
    length_s: float,
    tick_s: float,
) -> Answer:
    """Take in one whole cycle that had ``given_s`` of heat at its begin and the Fourier term ``re, im`` in its reading.

    ``plant`` is the one the loop works by; it brings cycles of slightly different length to one measure. Much stretched
    ones are another frequency, at which a chamber that is not quite this plant answers otherwise.
    """
    if answer.plant_k != plant.gain_k or answer.cycle_s != control.cycle_s:
        answer = Answer(plant.gain_k, control.cycle_s)
    alike = ALIKE * length_s
    steady = abs(length_s - answer.length_s) <= alike and abs(given_s - answer.given_s) <= alike
    answer = replace(answer, length_s=length_s, given_s=given_s)
    if not steady or length_s > LONGEST * control.cycle_s:
        return answer
    w = 2.0 * pi / length_s
    heat = sum(cexp(w * tick * tick_s) for tick in range(round(given_s / tick_s))) * tick_s
    if abs(heat) < LEAST_PULSE * length_s:
        return answer
    lags = (1.0 + 1j * w * plant.time_constant_s) * (1.0 + 1j * w * plant.lag_s)
    expected = heat * plant.gain_k * cexp(w * plant.dead_time_s) / lags
    mixed, size = complex(re, im) * expected.conjugate(), abs(expected) ** 2
    ripple_k = 2.0 * abs(expected) / length_s
    slowness = max(1.0, min(SLOWEST, (CLEAR_K / max(ripple_k, 1e-6)) ** 2))
    measured = answer.heard_s >= MEASURE_S * slowness
    keep = 1.0 - length_s / (HEAR_S * slowness) if measured else 1.0
    answer = replace(
        answer,
        re=answer.re * keep + mixed.real,
        im=answer.im * keep + mixed.imag,
        weight=answer.weight * keep + size,
        heard_s=answer.heard_s + length_s,
    )
    if not measured:
        return replace(answer, measure_re=answer.re / answer.weight, measure_im=answer.im / answer.weight)
    return _judged(answer, length_s, 0.5 * HEAR_S * slowness)


def cexp(angle: float) -> complex:
    """Return ``e^(-j angle)``."""
    return complex(cos(angle), -sin(angle))


def _judged(answer: Answer, length_s: float, patience_s: float) -> Answer:
    """Compare with the measure; only what stays odd for long is said, only what is well back is taken back."""
    strength, later = compared(answer)
    within = BACK if answer.verdict else 1.0
    odd: Verdict = ""
    if later > LATER_RAD * within:
        odd = "air-slower"
    elif strength < 1.0 - (1.0 - WEAKER) * within:
        odd = "heater-weaker"
    elif later < -LATER_RAD * within:
        odd = "sensor-nearer"
    elif strength > 1.0 + (STRONGER - 1.0) * within:
        odd = "heater-stronger"
    other: Verdict = answer.verdict if answer.verdict in OF_POWER else ""
    if not odd:
        return replace(answer, odd_s=0.0, verdict=other)
    odd_s = answer.odd_s + length_s
    return replace(
        answer, odd_s=odd_s, verdict=odd if odd_s >= patience_s or answer.verdict not in ("", *OF_POWER) else other
    )


def powered(answer: Answer, duty: float, length_s: float, setpoint_c: float) -> Answer:
    """Take in the share of power of one cycle of quiet holding; another setpoint begins anew."""
    if abs(setpoint_c - answer.at_c) > SAME_K:
        answer = replace(answer, held_s=0.0, at_c=setpoint_c)
    verdict = "" if answer.verdict == "power-short" and duty < SATURATED else answer.verdict
    if not answer.held_s:
        return replace(
            answer,
            usual=duty,
            recent=duty,
            held_s=length_s,
            more_s=0.0,
            verdict="" if verdict == "takes-more" else verdict,
        )
    recent = answer.recent + (duty - answer.recent) * min(1.0, length_s / RECENT_S)
    more = answer.held_s > KNOWN_S and recent > TAKES_MORE * answer.usual + AND_SHARE
    slow = HESITANT if recent > HESITATES * answer.usual else 1.0  # a sudden rise does not become usual at once
    usual = (
        answer.usual
        if more
        else answer.usual + (duty - answer.usual) * length_s / (slow * min(answer.held_s + length_s, USUAL_S))
    )
    more_s = answer.more_s + length_s if more else 0.0
    if more_s > PATIENCE_S and not verdict:
        verdict = "takes-more"
    elif not more and verdict == "takes-more":
        verdict = ""
    return replace(answer, usual=usual, recent=recent, held_s=answer.held_s + length_s, more_s=more_s, verdict=verdict)


def disturbed(answer: Answer) -> Answer:
    """Return the answer with the usual power to be found anew: a door was open, heat was off."""
    return replace(answer, held_s=0.0) if answer.held_s else answer


def compared(answer: Answer) -> tuple[float, float]:
    """Return the size of the answer over its measure, and how much later it comes, in radians of the cycle."""
    if not answer.weight or not (answer.measure_re or answer.measure_im):
        return 1.0, 0.0
    re, im = answer.re / answer.weight, answer.im / answer.weight
    ahead = atan2(im, re) - atan2(answer.measure_im, answer.measure_re)
    return hypot(re, im) / hypot(answer.measure_re, answer.measure_im), -((ahead + pi) % (2.0 * pi) - pi)


def conditions(answer: Answer) -> tuple[Condition, ...]:
    """Return the alarm that belongs to the verdict, with what has changed as half a sentence; none while all is as it was."""
    if not answer.verdict:
        return ()
    strength, later = compared(answer)
    seconds = later / (2.0 * pi) * answer.cycle_s
    match answer.verdict:
        case "power-short":
            said = "full power no longer reaches what it held before"
        case "takes-more":
            said = f"holding takes {100.0 * answer.recent:.0f} % of it, {100.0 * answer.usual:.0f} % was usual"
        case "air-slower":
            said = f"{seconds:.0f} s later than it did, with {100.0 * strength:.0f} % of the strength"
            return (Condition("air-slower", "", seconds, said),)
        case "sensor-nearer":
            said = f"its heat reaches the sensor {-seconds:.0f} s earlier"
        case _:
            said = f"it warms the air with {100.0 * strength:.0f} % of the strength it had"
    return (Condition("heater-changed", "", 100.0 * strength, said),)
