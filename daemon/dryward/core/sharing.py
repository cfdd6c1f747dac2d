"""What each piece on a shared scale weighs: all weights estimated together from their sum and from single weighings.

The state is, for every piece, its weight and its vigour (the logarithm of how much faster it dries than its form tells),
and the scale's zero. The measured sum is the clock: what the sum has lost is shared out by how fast each piece dries at its
stage (``science.falling``), so that temperature, humidity and step changes need not be known. What is not known about the
shares grows with the loss; a single weighing then corrects that piece, its vigour and, through the sum, its neighbours.

Method: extended Kalman filter (Kalman 1960). The sum enters with an unknown common rate, which is the limit of an infinitely
uncertain step along the shares p: ``P' = (I - p h) P (I - p h)' + R p p'`` with h the row that sums up what hangs.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import exp, sqrt
from typing import NamedTuple

from dryward.core.frozen import frozen
from dryward.science.falling import WATER, fall, rate

VIGOUR = 0.25
"""Spread of the vigour beforehand: fat, grain and place in the chamber make so much (no source)."""
MOST_VIGOUR = 2.0
"""No piece dries more than seven times as fast, or as slowly, as its form tells (no source): a weight that says so is wrong."""
WANDER = 0.2
"""The vigour wanders by so much while the whole batch loses all its green weight."""
ZERO_G = 2.0
ZERO_WANDER_G = 0.5
"""The zero of a scale wanders by so much, g, in WANDER_S (0.7 v_min for 5 K: OIML R 60, class C3, 10 kg)."""
WANDER_S = 36_000.0
MOST_GONE = 0.97


class Form(NamedTuple):
    """What is known of a piece beforehand: green weight, and how fast its form dries (``falling.pace``)."""

    green_g: float
    pace: float


class Prior(NamedTuple):
    """First estimate of a weight. ``own_g``: standard deviation of its own; ``common``: share of an error that all have."""

    weight_g: float
    own_g: float
    common: float = 0.0


@frozen
class Shared:
    """The joint estimate. ``cov``: lower triangle of the covariance of weights, vigours and zero, in this order."""

    weights_g: tuple[float, ...]
    vigours: tuple[float, ...]
    zero_g: float
    cov: tuple[tuple[float, ...], ...]
    at_s: float

    def sigma_g(self, i: int) -> float:
        """Return the standard deviation of piece ``i``'s weight, g."""
        return sqrt(max(0.0, self.cov[i][i]))


Square = list[list[float]]


def begin(priors: Sequence[Prior], total_g: float, *, sigma_g: float, at_s: float) -> Shared:
    """Make the first estimate from what each piece should weigh and from the measured sum."""
    n = len(priors)
    cov: Square = [[0.0] * (2 * n + 1) for _ in range(2 * n + 1)]
    for i, a in enumerate(priors):
        for j, b in enumerate(priors):
            cov[i][j] = a.common * a.weight_g * b.common * b.weight_g
        cov[i][i] += a.own_g**2
        cov[n + i][n + i] = VIGOUR**2
    cov[2 * n][2 * n] = ZERO_G**2 + (0.003 * total_g) ** 2
    first = Shared(tuple(p.weight_g for p in priors), (0.0,) * n, 0.0, _packed(cov), at_s)
    return _measured(first, [*range(n), 2 * n], total_g, sigma_g)


def follow(
    shared: Shared, forms: Sequence[Form], hangs: Sequence[bool], total_g: float, *, sigma_g: float, at_s: float
) -> Shared:
    """Share out what the sum has lost since the last estimate among the pieces that hang. ``total_g`` is the sum now."""
    n = len(forms)
    on = [i for i in range(n) if hangs[i]]
    if not on:
        return shared
    gone = [
        min(MOST_GONE, max(0.0, (f.green_g - x) / (WATER * f.green_g)))
        for f, x in zip(forms, shared.weights_g, strict=True)
    ]
    speeds = [0.0] * n
    for i in on:
        speeds[i] = forms[i].green_g * forms[i].pace * rate(gone[i]) * exp(shared.vigours[i])
    whole = sum(speeds)
    shares = [s / whole for s in speeds]
    lost_g = sum(shared.weights_g[i] for i in on) + shared.zero_g - total_g
    cov = _full(shared.cov)
    if lost_g > 0.0:
        keeps = [
            max(0.0, 1.0 - lost_g * p * fall(y) / (WATER * f.green_g))
            for p, y, f in zip(shares, gone, forms, strict=True)
        ]
        _spread(cov, keeps, [-lost_g * p for p in shares])
        wandered = WANDER**2 * lost_g / sum(forms[i].green_g for i in on)
        for i in on:
            cov[n + i][n + i] += wandered
    cov[2 * n][2 * n] += ZERO_WANDER_G**2 * max(0.0, at_s - shared.at_s) / WANDER_S
    _project(cov, shares, [*on, 2 * n], sigma_g)
    weights = tuple(x - lost_g * p for x, p in zip(shared.weights_g, shares, strict=True))
    return Shared(weights, shared.vigours, shared.zero_g, _packed(cov), at_s)


def weighed(shared: Shared, which: Sequence[int], weight_g: float, *, sigma_g: float) -> Shared:
    """Take in what one piece weighs, or several together."""
    return _measured(shared, which, weight_g, sigma_g)


def corrected(shared: Shared, i: int, weight_g: float, *, sigma_g: float, hangs: bool) -> Shared:
    """Take a weighing that contradicts the estimate: the owner's word counts, and is no lesson about the neighbours.

    Where the piece hangs, the measured sum stays what it was, so that the scale's zero takes the difference.
    """
    n = len(shared.weights_g)
    cov = _full(shared.cov)
    for k in range(2 * n + 1):
        cov[i][k] = cov[k][i] = 0.0
    cov[i][i] = sigma_g**2
    zero_g = shared.zero_g
    if hangs:
        zero_g += shared.weights_g[i] - weight_g
        cov[2 * n][2 * n] += sigma_g**2
    weights = (*shared.weights_g[:i], weight_g, *shared.weights_g[i + 1 :])
    return Shared(weights, shared.vigours, zero_g, _packed(cov), shared.at_s)


def shifted(shared: Shared, shift_g: float, *, sigma_g: float) -> Shared:
    """Move the scale's zero by ``shift_g``: something changed the sum that is no piece."""
    cov = _full(shared.cov)
    cov[-1][-1] += sigma_g**2
    return Shared(shared.weights_g, shared.vigours, shared.zero_g + shift_g, _packed(cov), shared.at_s)


def without(shared: Shared, i: int) -> Shared:
    """Forget piece ``i``; what it taught about the others stays."""
    n = len(shared.weights_g)
    cov = _full(shared.cov)
    stay = [k for k in range(2 * n + 1) if k not in (i, n + i)]
    smaller = [[cov[a][b] for b in stay] for a in stay]
    weights, vigours = shared.weights_g, shared.vigours
    return Shared(
        weights[:i] + weights[i + 1 :], vigours[:i] + vigours[i + 1 :], shared.zero_g, _packed(smaller), shared.at_s
    )


def _measured(shared: Shared, which: Sequence[int], value: float, sigma_g: float) -> Shared:
    """Ordinary Kalman update for a measured sum of the entries ``which`` of the state."""
    n = len(shared.weights_g)
    cov = _full(shared.cov)
    state = [*shared.weights_g, *shared.vigours, shared.zero_g]
    column = [sum(row[k] for k in which) for row in cov]
    spread = sum(column[k] for k in which) + sigma_g**2
    missed = (value - sum(state[k] for k in which)) / spread
    state = [s + c * missed for s, c in zip(state, column, strict=True)]
    for row, c in zip(cov, column, strict=True):
        gain = c / spread
        for k, d in enumerate(column):
            row[k] -= gain * d
    vigours = tuple([min(max(v, -MOST_VIGOUR), MOST_VIGOUR) for v in state[n : 2 * n]])
    return Shared(tuple(state[:n]), vigours, state[2 * n], _packed(cov), shared.at_s)


def _spread(cov: Square, keeps: Sequence[float], vigour_gains: Sequence[float]) -> None:
    """Carry the covariance through the step: each weight keeps a share of its error and takes one from its vigour."""
    n = len(keeps)
    for i, (keep, gain) in enumerate(zip(keeps, vigour_gains, strict=True)):
        cov[i] = [keep * a + gain * b for a, b in zip(cov[i], cov[n + i], strict=True)]
    for row in cov:
        for j, (keep, gain) in enumerate(zip(keeps, vigour_gains, strict=True)):
            row[j] = keep * row[j] + gain * row[n + j]


def _project(cov: Square, shares: Sequence[float], summed: Sequence[int], sigma_g: float) -> None:
    """Let the measured sum stand: errors of the sum go out along the shares."""
    column = [sum(row[k] for k in summed) for row in cov]
    spread = sum(column[k] for k in summed) + sigma_g**2
    along = [*shares, *([0.0] * (len(shares) + 1))]
    for row, a, c in zip(cov, along, column, strict=True):
        for k, (b, d) in enumerate(zip(along, column, strict=True)):
            row[k] += a * (b * spread - d) - c * b


def _full(lower: tuple[tuple[float, ...], ...]) -> Square:
    size = len(lower)
    return [[lower[i][k] if k <= i else lower[k][i] for k in range(size)] for i in range(size)]


def _packed(cov: Square) -> tuple[tuple[float, ...], ...]:
    return tuple([tuple(row[: i + 1]) for i, row in enumerate(cov)])
