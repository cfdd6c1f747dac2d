"""Nonlinear least squares: Levenberg-Marquardt from one start or, better, from several.

Method: Levenberg 1944, Marquardt 1963 (damping by the scale of each parameter), with the damping rule of Nielsen 1999.
Checked in the tests against the certified values of NIST/ITL StRD and against scipy.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import product

from dryward.science.numerics import SingularError, invert_symmetric, solve_least_squares

Residuals = Callable[[Sequence[float]], list[float]]
"""From parameters to (model minus observation), one number per observation; not finite means: not allowed here."""


class FitError(ArithmeticError):
    """No start led to a fit."""


@dataclass(frozen=True, slots=True)
class Fit:
    """What a fit found. ``errors`` are standard deviations of the parameters, empty when they cannot be told."""

    parameters: tuple[float, ...]
    sum_squares: float
    errors: tuple[float, ...]
    rounds: int
    converged: bool

    def rmse(self, count: int) -> float:
        """Return the root of the mean squared residual over ``count`` observations."""
        return math.sqrt(self.sum_squares / count)


def fit(residuals: Residuals, start: Sequence[float], *, rounds: int = 500) -> Fit:
    """Minimise the sum of squares from one start. Finds the minimum of the valley it starts in.

    Raises FitError when the residuals at the start are not finite.
    """
    here = [float(value) for value in start]
    wrong = residuals(here)
    cost = _sum_squares(wrong)
    if not math.isfinite(cost):
        raise FitError(f"the start {tuple(here)} has no finite residuals; start elsewhere")
    damping, growth = 1e-3, 2.0
    scale = [0.0] * len(here)
    done, converged = 0, False
    while done < rounds and not converged:
        done += 1
        slopes = jacobian(residuals, here)
        scale = [max(old, _norm(row[j] for row in slopes)) for j, old in enumerate(scale)]
        step = _damped_step(slopes, wrong, scale, damping)
        there = [value + move for value, move in zip(here, step, strict=True)]
        after = residuals(there)
        new_cost = _sum_squares(after)
        small = all(abs(move) <= 1e-12 * (abs(value) + 1e-12) for move, value in zip(step, here, strict=True))
        if new_cost <= cost:
            expected = cost - _sum_squares(_linear(slopes, wrong, step))
            gain = (cost - new_cost) / expected if expected > 0.0 else 1.0
            damping *= max(1.0 / 3.0, 1.0 - (2.0 * gain - 1.0) ** 3)
            growth = 2.0
            here, wrong, cost = there, after, new_cost
        else:
            damping *= growth
            growth *= 2.0
        converged = small or cost == 0.0 or damping > 1e30
    return Fit(tuple(here), cost, _errors(jacobian(residuals, here), cost), done, converged)


def fit_best(residuals: Residuals, starts: Iterable[Sequence[float]], *, rounds: int = 500) -> Fit:
    """Fit from every start and return the lowest: one start can end in the wrong valley (NIST BoxBOD shows it).

    Raises FitError when no start gives a finite fit.
    """
    best: Fit | None = None
    for start in starts:
        try:
            found = fit(residuals, start, rounds=rounds)
        except FitError:
            continue
        if best is None or found.sum_squares < best.sum_squares:
            best = found
    if best is None:
        raise FitError("no start has finite residuals; give starts near the data")
    return best


def grid(*axes: Sequence[float]) -> list[tuple[float, ...]]:
    """Return every combination of the values on each axis, as starts for ``fit_best``."""
    return list(product(*axes))


def jacobian(residuals: Residuals, at: Sequence[float]) -> list[list[float]]:
    """Return the slopes of each residual by each parameter, by central differences."""
    columns = []
    for index, value in enumerate(at):
        width = 6e-6 * max(abs(value), 1e-9)  # cube root of the rounding unit: the best width of a central difference
        above, below = list(at), list(at)
        above[index] += width
        below[index] -= width
        span = above[index] - below[index]
        columns.append([(up - down) / span for up, down in zip(residuals(above), residuals(below), strict=True)])
    return [[column[row] for column in columns] for row in range(len(columns[0]))]


def _damped_step(slopes: list[list[float]], wrong: list[float], scale: list[float], damping: float) -> list[float]:
    """Solve the damped linear problem; a parameter that has no effect at all stays where it is."""
    floor = 1e-12 * max(scale) or 1.0
    root = math.sqrt(damping)
    damped = [[root * max(scale[j], floor) if i == j else 0.0 for j in range(len(scale))] for i in range(len(scale))]
    right = [-value for value in wrong] + [0.0] * len(scale)
    if not all(math.isfinite(value) for row in slopes for value in row):
        return [0.0] * len(scale)
    try:
        return solve_least_squares(slopes + damped, right)
    except SingularError:
        return [0.0] * len(scale)


def _linear(slopes: list[list[float]], wrong: list[float], step: list[float]) -> list[float]:
    return [
        value + sum(a * b for a, b in zip(row, step, strict=True)) for value, row in zip(wrong, slopes, strict=True)
    ]


def _errors(slopes: list[list[float]], cost: float) -> tuple[float, ...]:
    """Standard deviations from the curvature at the minimum, scaled so that a wide range of units does no harm."""
    count, width = len(slopes), len(slopes[0])
    if count <= width:
        return ()
    scale = [_norm(row[j] for row in slopes) for j in range(width)]
    if not all(math.isfinite(value) and value > 0.0 for value in scale):
        return ()
    normal = [
        [math.fsum(row[i] * row[j] for row in slopes) / (scale[i] * scale[j]) for j in range(width)]
        for i in range(width)
    ]
    try:
        inverse = invert_symmetric(normal)
    except SingularError:
        return ()
    spread = cost / (count - width)
    return tuple(math.sqrt(inverse[j][j] * spread) / scale[j] for j in range(width))


def _sum_squares(values: Iterable[float]) -> float:
    try:
        total = sum(value * value for value in values)
    except OverflowError:
        return math.inf
    return total if math.isfinite(total) else math.inf


def _norm(values: Iterable[float]) -> float:
    return math.sqrt(sum(value * value for value in values))
