"""A neighbour that is further on shows the way: its own drying curve as a shape for the pieces behind it.

Pieces of one kind in one chamber follow one characteristic curve, each at its own pace (van Meel 1958, Adiabatic convection batch
drying with recirculation of air, Chem. Eng. Sci. 9). Where the curve bends may lie somewhat earlier or later in each piece.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from itertools import pairwise

from dryward.science.shapes import DRIEST, Shape

FEWEST, KNOTS = 4, 14
"""So many drops describe a neighbour's curve; smaller ones would only repeat its weighing errors."""


def shown(clock: Sequence[float], shares: Sequence[float], noise: float) -> tuple[Shape, float] | None:
    """Return a neighbour's curve as a shape, and the loss at its end; None when it has not lost enough to show one.

    ``clock``: time weighted by the air; ``shares``: of its green weight; ``noise``: the weighing error as such a share.
    """
    knots = _knots(clock, shares, noise)
    if len(knots) < FEWEST:
        return None
    reach = 1.0 - knots[-1][1]
    ratios = [1.0 - (1.0 - y) / reach for _, y in knots]
    times = [t for t, _ in knots]
    half = _time_of(0.5, times, ratios)
    return _shape([t / half for t in times], ratios), reach


def _knots(clock: Sequence[float], shares: Sequence[float], noise: float) -> list[tuple[float, float]]:
    """The start, and then means of weighings that lie a clear drop apart."""
    drop = max(6.0 * noise, (1.0 - min(shares)) / KNOTS)
    knots = [(clock[0], 1.0)]
    some: list[tuple[float, float]] = []
    for t, y in zip(clock[1:], shares[1:], strict=True):
        some.append((t, y))
        mean = sum(y for _, y in some) / len(some)
        if knots[-1][1] - mean >= drop:
            knots.append((sum(t for t, _ in some) / len(some), mean))
            some = []
    if some and (mean := sum(y for _, y in some) / len(some)) < knots[-1][1] - 0.3 * drop:
        knots.append((sum(t for t, _ in some) / len(some), mean))
    return knots


def _time_of(u: float, times: Sequence[float], ratios: Sequence[float]) -> float:
    for (t0, u0), (t1, u1) in pairwise(zip(times, ratios, strict=True)):
        if u1 <= u:
            return t0 + (u0 - u) / (u0 - u1) * (t1 - t0) - times[0]
    return times[-1] - times[0]


def _shape(times: list[float], ratios: list[float]) -> Shape:
    """A smooth falling curve through the knots (Fritsch and Carlson 1980)."""
    times = [t - times[0] for t in times]
    falls = [(b - a) / (t1 - t0) for (t0, a), (t1, b) in pairwise(zip(times, ratios, strict=True))]
    slopes = [falls[0], *(2.0 * a * b / (a + b) for a, b in pairwise(falls)), falls[-1]]
    last = len(times) - 1

    def ratio(z: float) -> tuple[float, float]:
        if z >= times[last]:
            u = ratios[last] + slopes[last] * (z - times[last])
            return max(u, DRIEST), slopes[last]
        place = max(0, bisect_right(times, z) - 1)
        width = times[place + 1] - times[place]
        s = max(0.0, (z - times[place]) / width)
        a, b, p, q = ratios[place], ratios[place + 1], slopes[place] * width, slopes[place + 1] * width
        c, d = -3.0 * a + 3.0 * b - 2.0 * p - q, 2.0 * a - 2.0 * b + p + q
        return max(DRIEST, a + s * (p + s * (c + s * d))), min(-1e-9, (p + s * (2.0 * c + 3.0 * s * d)) / width)

    def stage(u: float) -> float:
        if u >= 1.0:
            return 0.0
        place = next((place for place in range(last) if ratios[place + 1] <= u), last - 1)
        low, high = times[place], times[place + 1]
        for _ in range(40):
            middle = 0.5 * (low + high)
            low, high = (middle, high) if ratio(middle)[0] > u else (low, middle)
        return low

    return Shape("neighbour", 1.0, ratio, stage)
