"""Small numerics of our own, so that the daemon needs no numpy: least squares, interpolation, quantiles, roots.

Everything here is meant for tens of numbers, not thousands: a fit of a drying curve has 2-6 parameters.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Callable, Sequence


class SingularError(ArithmeticError):
    """The columns of a least-squares problem cannot be told apart."""


def solve_least_squares(matrix: Sequence[Sequence[float]], right: Sequence[float]) -> list[float]:
    """Return x that minimises ``|matrix x - right|``, by Householder reflections.

    ``matrix`` has at least as many rows as columns. Reflections keep the digits that the normal equations lose.
    Raises SingularError when a column depends on the others.
    """
    rows = [[*map(float, row), float(value)] for row, value in zip(matrix, right, strict=True)]
    width = len(rows[0]) - 1
    scale = max((abs(value) for row in rows for value in row[:-1]), default=0.0)
    for pivot in range(width):
        norm = math.sqrt(math.fsum(row[pivot] ** 2 for row in rows[pivot:]))
        if norm <= 1e-15 * scale or not math.isfinite(norm):
            raise SingularError(f"column {pivot + 1} of {width} depends on the others")
        head = rows[pivot][pivot]
        mirror = -math.copysign(norm, head)
        normal = [row[pivot] for row in rows[pivot:]]
        normal[0] = head - mirror
        length = math.fsum(value**2 for value in normal)
        for column in range(pivot, width + 1):
            share = 2.0 / length * math.fsum(n * row[column] for n, row in zip(normal, rows[pivot:], strict=True))
            for n, row in zip(normal, rows[pivot:], strict=True):
                row[column] -= share * n
    solution = [0.0] * width
    for pivot in reversed(range(width)):
        known = math.fsum(rows[pivot][column] * solution[column] for column in range(pivot + 1, width))
        solution[pivot] = (rows[pivot][width] - known) / rows[pivot][pivot]
    return solution


def invert_symmetric(matrix: Sequence[Sequence[float]]) -> list[list[float]]:
    """Return the inverse of a symmetric positive definite matrix, by Cholesky.

    Raises SingularError when it is not positive definite.
    """
    size = len(matrix)
    lower = [[0.0] * size for _ in range(size)]
    for i in range(size):
        for j in range(i + 1):
            rest = matrix[i][j] - math.fsum(lower[i][k] * lower[j][k] for k in range(j))
            if i == j:
                if not rest > 0.0:
                    raise SingularError(f"row {i + 1} of {size} depends on the others")
                lower[i][i] = math.sqrt(rest)
            else:
                lower[i][j] = rest / lower[j][j]
    columns = []
    for unit in range(size):
        forward = [0.0] * size
        for i in range(size):
            known = math.fsum(lower[i][k] * forward[k] for k in range(i))
            forward[i] = ((1.0 if i == unit else 0.0) - known) / lower[i][i]
        back = [0.0] * size
        for i in reversed(range(size)):
            known = math.fsum(lower[k][i] * back[k] for k in range(i + 1, size))
            back[i] = (forward[i] - known) / lower[i][i]
        columns.append(back)
    return columns


def interpolate(x: float, xs: Sequence[float], ys: Sequence[float]) -> float:
    """Return y at ``x`` on straight lines between points; ``xs`` rising. Beyond the ends the end value holds."""
    if x <= xs[0]:
        return ys[0]
    if x >= xs[-1]:
        return ys[-1]
    right = bisect_right(xs, x)
    left = right - 1
    return ys[left] + (ys[right] - ys[left]) * (x - xs[left]) / (xs[right] - xs[left])


def weighted_quantile(values: Sequence[float], weights: Sequence[float], share: float) -> float:
    """Return the value below which ``share`` (0..1) of the weight lies. Infinite values are allowed and sort last."""
    pairs = sorted(zip(values, weights, strict=True))
    wanted = share * math.fsum(weights)
    gathered = 0.0
    for value, weight in pairs:
        gathered += weight
        if gathered >= wanted:
            return value
    return pairs[-1][0]


def find_root(function: Callable[[float], float], low: float, high: float) -> float:
    """Return x between ``low`` and ``high`` where ``function`` changes sign, by bisection to the last digit.

    Raises ValueError when both ends have the same sign.
    """
    at_low = function(low)
    if at_low == 0.0:
        return low
    if at_low * function(high) > 0.0:
        raise ValueError(f"no change of sign between {low:g} and {high:g}")
    for _ in range(200):
        middle = 0.5 * (low + high)
        if middle in (low, high):
            break
        at_middle = function(middle)
        if (at_middle > 0.0) == (at_low > 0.0):
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def bessel_j(order: int, x: float) -> float:
    """Return the Bessel function of the first kind of a whole ``order``.

    Bessel's integral (DLMF 10.9.2) by the trapezoid rule, which converges faster than any power for a periodic integrand.
    """
    count = int(abs(x)) + order + 30
    step = math.pi / count
    inner = math.fsum(math.cos(order * k * step - x * math.sin(k * step)) for k in range(1, count))
    return (inner + 0.5 * (1.0 + math.cos(order * math.pi))) / count
