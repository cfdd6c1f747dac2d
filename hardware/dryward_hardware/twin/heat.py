"""Three heated bodies in a row (element or coil, air, wall), stepped exactly however long the step.

Each body is a node with a heat capacity; neighbours are joined by conductances. While powers and conductances do not
change, the temperatures follow ``x' = A x + b`` and the step over ``dt`` is ``x = Phi x + Gam b``, with
``Phi = exp(A dt)``, ``Gam`` its integral and ``Gam2`` the integral of that. So one step of 5 s and five of 1 s agree.
"""

from __future__ import annotations

Matrix = list[list[float]]
Steps = tuple[float, ...]
"""Phi (9), Gam (9), then the second and third row of Gam2 (6), row by row."""

ROWS = range(3)


def _times(a: Matrix, b: Matrix) -> Matrix:
    return [[sum(a[i][k] * b[k][j] for k in ROWS) for j in ROWS] for i in ROWS]


def _plus(a: Matrix, b: Matrix, factor: float = 1.0) -> Matrix:
    return [[a[i][j] + factor * b[i][j] for j in ROWS] for i in ROWS]


def _eye(factor: float) -> Matrix:
    return [[factor if i == j else 0.0 for j in ROWS] for i in ROWS]


def propagator(rates: Matrix, dt_s: float) -> Steps:
    """Return the exact step of ``x' = rates x + b`` over ``dt_s``: Taylor series on a small part, then doubled."""
    largest = max(sum(map(abs, row)) for row in rates) * dt_s
    doublings = max(0, int(largest * 8).bit_length())
    h = dt_s / 2**doublings
    phi, gam, gam2 = _eye(1.0), _eye(h), _eye(h * h / 2)
    power = _eye(1.0)  # (A h)^n / n!
    for n in range(1, 12):
        power = [[h / n * value for value in row] for row in _times(power, rates)]
        phi, gam, gam2 = (
            _plus(phi, power),
            _plus(gam, power, h / (n + 1)),
            _plus(gam2, power, h * h / ((n + 1) * (n + 2))),
        )
    for _ in range(doublings):
        gam2 = _plus(_plus(gam2, gam, h), _times(phi, gam2))
        gam = _plus(gam, _times(phi, gam))
        phi = _times(phi, phi)
        h *= 2
    return tuple(v for m in (phi, gam, gam2[1:]) for row in m for v in row)


class Bodies:
    """The three bodies with fixed conductances; steps of each length are worked out once and kept."""

    __slots__ = ("_rates", "_steps", "_tick_s")

    def __init__(
        self,
        *,
        capacities: tuple[float, float, float],
        source_air: float,
        air_wall: float,
        air_out: float,
        wall_out: float,
        tick_s: float,
    ) -> None:
        """Take capacities in J/K and conductances in W/K; ``_out`` leads to something of given temperature."""
        c0, c1, c2 = capacities
        self._rates: Matrix = [
            [-source_air / c0, source_air / c0, 0.0],
            [source_air / c1, -(source_air + air_wall + air_out) / c1, air_wall / c1],
            [0.0, air_wall / c2, -(air_wall + wall_out) / c2],
        ]
        self._tick_s = tick_s
        self._steps: dict[int, Steps] = {}

    def over(self, ticks: int) -> Steps:
        """Return the step over so many ticks."""
        steps = self._steps.get(ticks)
        if steps is None:
            steps = self._steps[ticks] = propagator(self._rates, ticks * self._tick_s)
        return steps
