"""From raw weighings to a few good points: sorted, equal times merged, a fast log thinned by medians."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise
from statistics import fmean, median

MOST = 36
"""So many points describe a drying curve; more only cost time."""


@dataclass(frozen=True, slots=True)
class Weight:
    """A weight at a moment, from ``count`` weighings."""

    t_s: float
    weight_g: float
    count: int = 1


def tidy(weighings: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Sort by time and replace weighings of the same moment by their median."""
    ordered = sorted(weighings)
    if all(a[0] < b[0] for a, b in pairwise(ordered)):
        return ordered
    return [(t, median(weight for _, weight in same)) for t, same in groupby(ordered, key=lambda row: row[0])]


def thin(weighings: Sequence[tuple[float, float]], most: int = MOST) -> list[Weight]:
    """Return the first weighing and the median of each of ``most`` equal spans of time.

    Expects what ``tidy`` returns; a short series comes back as it is. Linear in the number of weighings.
    """
    if len(weighings) <= most:
        return [Weight(t, weight) for t, weight in weighings]
    start, end = weighings[0][0], weighings[-1][0]
    spans: list[list[tuple[float, float]]] = [[] for _ in range(most)]
    for t, weight in weighings[1:]:
        spans[min(most - 1, int((t - start) / (end - start) * most))].append((t, weight))
    thinned = [
        Weight(fmean(t for t, _ in span), median(weight for _, weight in span), len(span)) for span in spans if span
    ]
    return [Weight(start, weighings[0][1]), *thinned]


def resolution_g(weights: Sequence[float]) -> float:
    """Return the decimal step in which the weights are written (1, 0.1, ... at least 1e-6 g): what the scale can show."""
    for digits in range(6):
        if all(abs(round(weight, digits) - weight) <= 1e-9 * abs(weight) for weight in weights):
            return float(10.0**-digits)
    return 1e-6
