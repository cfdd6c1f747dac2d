"""What one load cell says: its samples averaged, outliers left out, sudden changes told from drying.

A sample near the expected weight goes through a median of five and into a straight line, level and slope, fitted by least
squares to the last while (recursive, with memory fading over ``Scale.settle_s``): it does not lag behind a steady loss.
When samples keep lying to one side, drying itself has changed, and the memory is shortened. A sample far from the line is
not believed. When several in a row lie far off and agree with each other, something was lifted off, hung up or touched:
that is a jump, and its size is told. Meat that dries does not jump. While the door is open the cell is watched for jumps
but nothing is averaged: wind and hands are at the rack.
"""

from __future__ import annotations

from dataclasses import replace
from math import exp, hypot, sqrt
from typing import NamedTuple

from dryward.core.frozen import frozen

MEDIAN_OF = 5
GATE = 6.0
"""A sample further off than so many times the usual scatter is not believed at once, nor one that is off by more than ..."""
GATE_G = 4.0
UNSURE, DOUBTS, GAP_S = 0.7, 2.0, 120.0
"""... after a gap, this share of what should have been lost meanwhile is allowed on top: the rate may have changed; and so
many standard deviations of what is known of it."""
AGREE, AGREE_G = 4.0, 1.5
QUICK_S, QUICK_SAMPLES = 10.0, 2
"""A jump of the size of a piece is believed when so many samples have agreed for so long: a knocked rack swings for seconds."""
SLOW_S, SLOW_SAMPLES = 300.0, 4
"""A smaller one may be a shake: it has to last."""
FIRST_NOISE_G = 1.0
NOISE_SAMPLES = 30.0
ASIDE, ASIDE_SAMPLES = 0.75, 16.0
"""Samples lie to one side when their mean over so many is off by this share of the scatter: four times what chance does."""
SHORTER = 4.0
FIRST_SLOPE_G_PER_S = 0.01
"""Nobody knows how fast a piece will dry: some 40 g an hour, one way or the other."""
OTHER_SLOPE = 0.5
"""After a jump the slope may be wrong by this share of itself."""
ASTRAY = 5
"""After so many samples in a row that fit nothing, not even each other, the scatter itself is taken to be larger."""
CREEP = 3e-4
"""A cell shows a change of load short of this share at first (creep; class C of OIML R 60 allows about so much in 30 min)."""


@frozen
class Odd:
    """Samples in a row that do not fit but agree with each other; ``astray`` counts all that do not fit."""

    since_s: float
    last_s: float
    count: int
    mean_g: float
    low_g: float
    high_g: float
    astray: int


@frozen
class Cell:
    """What the filter of one load cell remembers. ``noise_g`` is the standard deviation of a sample, learnt from them.

    ``spread``: variances of level and slope and their covariance, in units of the scatter's; ``aside_g``: how far the newest
    samples lie to one side; ``taken``: how many were believed since the last jump.
    """

    level_g: float
    sampled_s: float
    slope_g_per_s: float = 0.0
    noise_g: float = FIRST_NOISE_G
    taken: int = 1
    spread: tuple[float, float, float] = (1.0, 0.0, (FIRST_SLOPE_G_PER_S / FIRST_NOISE_G) ** 2)
    aside_g: float = 0.0
    recent: tuple[float, ...] = ()
    odd: Odd | None = None

    @property
    def seen_s(self) -> float:
        """Time of the newest sample, believed or not."""
        return self.sampled_s if self.odd is None else self.odd.last_s

    @property
    def sigma_g(self) -> float:
        """Standard deviation of the level, g."""
        return self.noise_g * sqrt(min(1.0, self.spread[0]))

    def at(self, now: float) -> float:
        """Return the level carried on along the slope to ``now``, g."""
        return self.level_g + self.slope_g_per_s * max(0.0, now - self.sampled_s)

    def doubt_at(self, now: float) -> float:
        """Return the standard deviation of the level carried on to ``now``, g."""
        level_var, both, slope_var = self.spread
        dt = max(0.0, now - self.sampled_s)
        return self.noise_g * sqrt(max(0.0, min(1.0, level_var) + dt * (2.0 * both + dt * slope_var)))


class Jump(NamedTuple):
    """The weight changed in one moment. ``sigma_g`` is the doubt in the size of the change."""

    from_g: float
    to_g: float
    sigma_g: float
    at_s: float

    @property
    def change_g(self) -> float:
        return self.to_g - self.from_g


def feed(
    cell: Cell, weight_g: float, at_s: float, *, settle_s: float, smallest_g: float, still: bool
) -> tuple[Cell, Jump | None]:
    """Take one sample in. ``smallest_g``: the lightest thing that can be lifted off; ``still``: door shut."""
    dt = at_s - cell.sampled_s
    moved_g = cell.slope_g_per_s * dt
    error_g = weight_g - cell.level_g - moved_g
    slack_g = (
        max(GATE * cell.noise_g, GATE_G) + UNSURE * abs(moved_g) + (DOUBTS * cell.doubt_at(at_s) if dt > GAP_S else 0.0)
    )
    if abs(error_g) <= slack_g:
        if still:
            return _averaged(cell, weight_g, at_s, dt, settle_s), None
        return (cell if cell.odd is None else replace(cell, odd=None)), None
    odd = _odd(cell, weight_g, at_s)
    apart_g = abs(odd.mean_g - cell.level_g - moved_g)
    long, many = (QUICK_S, QUICK_SAMPLES) if apart_g >= 0.5 * smallest_g else (SLOW_S, SLOW_SAMPLES)
    if odd.count >= many and odd.last_s - odd.since_s >= long:
        return _jumped(cell, odd)
    noise_g = cell.noise_g
    if odd.astray - odd.count >= ASTRAY:
        noise_g += (min(abs(error_g), 20.0 * noise_g) - noise_g) / NOISE_SAMPLES
    return replace(cell, odd=odd, noise_g=noise_g), None


def _averaged(cell: Cell, weight_g: float, at_s: float, dt: float, settle_s: float) -> Cell:
    kept = cell.recent[1 - MEDIAN_OF :] if dt < SLOW_S else ()
    recent = (*kept, weight_g)
    middle_g = sorted(recent)[len(recent) // 2]
    expected_g = cell.level_g + cell.slope_g_per_s * dt
    # The median stands for the weight some samples ago; move it to now along the slope.
    error_g = middle_g + cell.slope_g_per_s * dt * (len(recent) // 2) - expected_g
    level_var, both, slope_var = cell.spread
    keep = exp(-dt / settle_s) if settle_s > 0.0 else 1e-3
    # Time leaves the determinant as it is; taken from here, no difference of near equals makes a variance negative.
    whole = max(0.0, level_var * slope_var - both * both) / keep**2
    level_var, both, slope_var = (
        (level_var + dt * (2.0 * both + dt * slope_var)) / keep,
        (both + dt * slope_var) / keep,
        slope_var / keep,
    )
    shrink = 1.0 / (level_var + 1.0)
    level_gain, slope_gain = level_var * shrink, both * shrink
    scatter_g = 1.2533 * abs(weight_g - expected_g)  # mean deviation to standard deviation, for a normal distribution
    noise_g = cell.noise_g + (scatter_g - cell.noise_g) / min(NOISE_SAMPLES, cell.taken + 3.0)
    aside_g = cell.aside_g + (weight_g - expected_g - cell.aside_g) / ASIDE_SAMPLES
    spread = (level_gain, slope_gain, (slope_var + whole) * shrink)
    if abs(aside_g) > ASIDE * noise_g:
        spread, aside_g = (SHORTER * spread[0], SHORTER * spread[1], SHORTER * spread[2]), 0.0
    slope = min(0.0, cell.slope_g_per_s + slope_gain * error_g)
    return Cell(
        expected_g + level_gain * error_g,
        at_s,
        slope,
        noise_g,
        min(cell.taken + 1, 10_000),
        spread,
        aside_g,
        recent,
        None,
    )


def restarted(cell: Cell, slope_g_per_s: float | None) -> Cell:
    """Return the cell, just after a jump, with a slope that is known from before; None: something new hangs there."""
    if slope_g_per_s is None:
        slope_g_per_s, slope_var = 0.0, (FIRST_SLOPE_G_PER_S / cell.noise_g) ** 2
    else:
        slope_var = cell.spread[2] + (OTHER_SLOPE * slope_g_per_s / cell.noise_g) ** 2
    return replace(cell, slope_g_per_s=slope_g_per_s, spread=(1.0 / min(cell.taken, SLOW_SAMPLES), 0.0, slope_var))


def _odd(cell: Cell, weight_g: float, at_s: float) -> Odd:
    """Add a sample to those that agree, or begin anew with it."""
    odd = cell.odd
    if odd is None:
        return Odd(at_s, at_s, 1, weight_g, weight_g, weight_g, 1)
    apart_g = max(AGREE * cell.noise_g, AGREE_G) + UNSURE * abs(cell.slope_g_per_s) * (at_s - odd.since_s)
    if abs(weight_g - odd.mean_g) > apart_g:
        return Odd(at_s, at_s, 1, weight_g, weight_g, weight_g, odd.astray + 1)
    count = odd.count + 1
    mean_g = odd.mean_g + (weight_g - odd.mean_g) / count
    return Odd(odd.since_s, at_s, count, mean_g, min(odd.low_g, weight_g), max(odd.high_g, weight_g), odd.astray + 1)


def _jumped(cell: Cell, odd: Odd) -> tuple[Cell, Jump]:
    middle_s = 0.5 * (odd.since_s + odd.last_s)
    moved_g = cell.slope_g_per_s * (middle_s - cell.sampled_s)
    from_g = cell.level_g + moved_g
    spread_g = max(cell.noise_g / sqrt(odd.count), 0.5 * (odd.high_g - odd.low_g))
    sigma_g = hypot(cell.doubt_at(middle_s), spread_g, 0.5 * UNSURE * moved_g, CREEP * (odd.mean_g - from_g))
    share = min(2.0, max(0.0, odd.mean_g / from_g)) if from_g > 0.0 else 0.0  # what still hangs there goes on drying
    after = Cell(odd.mean_g, odd.last_s, 0.0, cell.noise_g, min(odd.count, SLOW_SAMPLES), (1.0, 0.0, cell.spread[2]))
    return restarted(after, share * cell.slope_g_per_s), Jump(from_g, odd.mean_g, sigma_g, odd.since_s)
