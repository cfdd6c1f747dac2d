"""The shapes a drying curve can take, each on a clock of its own on which half of the removable water is gone at 1.

A shape says how the moisture ratio u falls with the stage z: ``ratio(z)`` gives (u, du/dz), ``stage(u)`` the z. How fast z runs
(the piece, the air) and where u = 0 lies (the floor) are found elsewhere.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

from dryward.science.curves import Shape as Body
from dryward.science.curves import crank

DRIEST = 1e-4
"""Below this moisture ratio a shape is not followed any further: no scale sees it."""


@dataclass(frozen=True, slots=True)
class Shape:
    """One shape and how much it is trusted before any weighing is seen."""

    name: str
    trust: float
    ratio: Callable[[float], tuple[float, float]]
    stage: Callable[[float], float]


@cache
def shapes() -> tuple[Shape, ...]:
    """Return the shapes that are tried, from those that brake at once to those that first speed up."""
    return (
        *(
            _page(n, trust)
            for n, trust in ((0.55, 0.7), (0.7, 1.0), (0.85, 1.0), (1.0, 1.2), (1.2, 1.0), (1.5, 0.7), (2.0, 0.5))
        ),
        *(_order(m, trust) for m, trust in ((0.0, 0.4), (0.5, 1.0), (1.6, 0.8), (2.2, 0.6))),
        _body("slab", 0.8),
        _body("sphere", 0.8),
        _knee(0.6, 0.15, 0.5),
        _knee(0.4, 0.1, 0.4),
    )


def _page(n: float, trust: float) -> Shape:
    """Page or Weibull: ``exp(-ln 2 z^n)``."""
    half = math.log(2.0)

    def ratio(z: float) -> tuple[float, float]:
        if z < 1e-9:
            z = 1e-9
        power = half * z**n
        u = math.exp(-power)
        return u, -n * power / z * u

    def stage(u: float) -> float:
        return 0.0 if u >= 1.0 else (-math.log(max(u, DRIEST)) / half) ** (1.0 / n)

    return Shape(f"Page {n:g}", trust, ratio, stage)


def _order(m: float, trust: float) -> Shape:
    """Rate as the m-th power of what is left: 0 is a constant rate, 1 is Lewis, 2 a hyperbola (Peleg 1988)."""
    bend = 1.0 - m
    pace = (1.0 - 0.5**bend) / bend

    def ratio(z: float) -> tuple[float, float]:
        base = 1.0 - bend * pace * z
        if base <= DRIEST**bend and bend > 0.0:
            return DRIEST, -1e-9
        u = base ** (1.0 / bend)
        return u, -pace * u**m

    def stage(u: float) -> float:
        return 0.0 if u >= 1.0 else (1.0 - max(u, DRIEST) ** bend) / (bend * pace)

    return Shape(f"order {m:g}", trust, ratio, stage)


def _body(body: Body, trust: float) -> Shape:
    """Diffusion out of a body whose surface is in balance with the air (Crank), on a table even in the root of time."""
    half, step = _half(body), 0.01
    values: list[float] = []
    while not values or values[-1] > DRIEST:
        values.append(crank(half * (len(values) * step) ** 2, shape=body))
    last = len(values) - 2

    def ratio(z: float) -> tuple[float, float]:
        root = math.sqrt(z) if z > 1e-6 else 1e-3
        place = min(int(root / step), last)
        low, high = values[place], values[place + 1]
        u = low + (high - low) * (root / step - place)
        return (u if u > DRIEST else DRIEST), (high - low) / (2.0 * step * root)

    def stage(u: float) -> float:
        if u >= 1.0:
            return 0.0
        low, high = 0, last
        while low < high:
            middle = (low + high + 1) // 2
            if values[middle] > u:
                low = middle
            else:
                high = middle - 1
        share = (values[low] - max(u, DRIEST)) / (values[low] - values[low + 1])
        return (step * (low + min(1.0, share))) ** 2

    return Shape(body, trust, ratio, stage)


def _half(body: Body) -> float:
    """Fourier number at which half is gone."""
    low, high = 0.0, 1.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if crank(middle, shape=body) > 0.5 else (low, middle)
    return low


def _knee(fast: float, slow: float, trust: float) -> Shape:
    """Two stores: a share that leaves fast, and the rest at ``slow`` times its rate (pores that close, a crust that forms)."""

    def plain(z: float) -> float:
        return fast * math.exp(-z) + (1.0 - fast) * math.exp(-slow * z)

    def stage_of(u: float) -> float:
        low, high = 0.0, -math.log(max(u, DRIEST)) / slow
        for _ in range(50):
            middle = 0.5 * (low + high)
            low, high = (middle, high) if plain(middle) > u else (low, middle)
        return low

    half = stage_of(0.5)

    def ratio(z: float) -> tuple[float, float]:
        z = max(0.0, z) * half
        quick, late = fast * math.exp(-z), (1.0 - fast) * math.exp(-slow * z)
        return quick + late, -half * (quick + slow * late)

    def stage(u: float) -> float:
        return 0.0 if u >= 1.0 else stage_of(u) / half

    return Shape(f"knee {fast:g}", trust, ratio, stage)
