"""Drying curves: thin-layer models and Crank's diffusion series. The moisture ratio runs from 1 (green) to 0 (balanced with the air).

Thin-layer models are named as the literature names them (Lewis 1921, Page 1949, Henderson & Pabis 1961, Midilli 2002 and others).
Series: Crank, The Mathematics of Diffusion, 2nd ed. 1975, chapters 4-6; ``fo`` is D t / L^2 with L the half thickness or radius.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Literal

from dryward.science.fit import Fit, fit_best, grid
from dryward.science.numerics import bessel_j, find_root

TERMS = 60
"""Terms of a series; with them the short-time formula takes over at ``fo`` 0.001 without a visible seam."""

Shape = Literal["slab", "cylinder", "sphere"]


def lewis(t: float, k: float) -> float:
    """Return ``exp(-k t)``."""
    return _exp(-k * t)


def page(t: float, k: float, n: float) -> float:
    """Return ``exp(-k t^n)``; n = 1 is Lewis."""
    return _exp(-k * _power(t, n))


def henderson_pabis(t: float, a: float, k: float) -> float:
    """Return ``a exp(-k t)``."""
    return a * _exp(-k * t)


def logarithmic(t: float, a: float, k: float, c: float) -> float:
    """Return ``a exp(-k t) + c``: it never falls below its floor c."""
    return a * _exp(-k * t) + c


def two_term(t: float, a: float, k1: float, b: float, k2: float) -> float:
    """Return ``a exp(-k1 t) + b exp(-k2 t)``."""
    return a * _exp(-k1 * t) + b * _exp(-k2 * t)


def midilli(t: float, a: float, k: float, n: float, b: float) -> float:
    """Return ``a exp(-k t^n) + b t``."""
    return a * _exp(-k * _power(t, n)) + b * t


def weibull(t: float, scale: float, n: float) -> float:
    """Return ``exp(-(t / scale)^n)``: Page with k = scale^-n."""
    return _exp(-_power(t / scale, n)) if scale > 0.0 else math.nan


@dataclass(frozen=True, slots=True)
class ThinLayer:
    """A thin-layer model: its name, its formula, its parameters by name, and starts for a time axis of length 1."""

    name: str
    formula: Callable[..., float]
    parameters: tuple[str, ...]
    starts: tuple[tuple[float, ...], ...]
    to_time: tuple[Callable[[float, float, tuple[float, ...]], float] | None, ...]


def _rate(value: float, span: float, _: tuple[float, ...]) -> float:
    return value / span


def _page_rate(value: float, span: float, found: tuple[float, ...]) -> float:
    return value / _power(span, found[-1])


def _midilli_rate(value: float, span: float, found: tuple[float, ...]) -> float:
    return value / _power(span, found[2])


def _length(value: float, span: float, _: tuple[float, ...]) -> float:
    return value * span


_RATES = (0.1, 1.0, 4.0)
_POWERS = (0.6, 1.0, 1.5)

THIN_LAYERS: tuple[ThinLayer, ...] = (
    ThinLayer("Lewis", lewis, ("k",), tuple(grid(_RATES)), (_rate,)),
    ThinLayer("Page", page, ("k", "n"), tuple(grid(_RATES, _POWERS)), (_page_rate, None)),
    ThinLayer("Henderson-Pabis", henderson_pabis, ("a", "k"), tuple(grid((1.0,), _RATES)), (None, _rate)),
    ThinLayer(
        "logarithmic", logarithmic, ("a", "k", "c"), tuple(grid((0.9,), _RATES, (0.05, 0.3))), (None, _rate, None)
    ),
    ThinLayer(
        "two-term",
        two_term,
        ("a", "k1", "b", "k2"),
        tuple(grid((0.3, 0.6), (4.0, 12.0), (0.5,), (0.3, 1.0))),
        (None, _rate, None, _rate),
    ),
    ThinLayer(
        "Midilli",
        midilli,
        ("a", "k", "n", "b"),
        tuple(grid((1.0,), _RATES, _POWERS, (0.0,))),
        (None, _midilli_rate, None, _rate),
    ),
    ThinLayer("Weibull", weibull, ("scale", "n"), tuple(grid((0.3, 1.0, 5.0), _POWERS)), (_length, None)),
)


def fit_thin_layer(model: ThinLayer, times: Sequence[float], ratios: Sequence[float]) -> Fit:
    """Fit one thin-layer model to moisture ratios from several starts; the unit of the rates follows that of ``times``.

    The fit runs on an axis of length 1, so that hours and seconds are fitted alike. Errors of the parameters are left out.
    Raises ValueError when there are fewer points than parameters, FitError when nothing fits.
    """
    if len(times) < len(model.parameters):
        raise ValueError(f"{model.name} has {len(model.parameters)} parameters; {len(times)} points cannot fix them")
    span = max(times) or 1.0
    scaled = [t / span for t in times]

    def residuals(at: Sequence[float]) -> list[float]:
        return [model.formula(t, *at) - ratio for t, ratio in zip(scaled, ratios, strict=True)]

    best = fit_best(residuals, model.starts)
    found = best.parameters
    own = tuple(
        change(value, span, found) if change else value for value, change in zip(found, model.to_time, strict=True)
    )
    return Fit(own, best.sum_squares, (), best.rounds, best.converged)


def crank(fo: float, *, shape: Shape, biot: float = math.inf) -> float:
    """Return the mean moisture ratio of a body in air that stays the same, at Fourier number ``fo``.

    ``biot`` is surface transfer times L / D; infinite: the surface is in balance at once. Exact to 1e-5; for a finite ``biot``
    above 10 and ``fo`` below 0.001 to 1e-3.
    """
    if fo <= 0.0:
        return 1.0
    if fo < 0.001 and math.isinf(biot):
        return _early(fo, shape)
    return math.fsum(share * math.exp(-root * root * fo) for root, share in crank_terms(shape, biot))


@cache
def crank_terms(shape: Shape, biot: float = math.inf) -> tuple[tuple[float, float], ...]:
    """Return (root, share) of each term ``share exp(-root^2 fo)``; the shares add up to 1 less the terms left out."""
    if math.isinf(biot):
        if shape == "slab":
            roots = [(n + 0.5) * math.pi for n in range(TERMS)]
            return tuple((b, 2.0 / b**2) for b in roots)
        if shape == "cylinder":
            return tuple((b, 4.0 / b**2) for b in (_bessel_zero(n) for n in range(1, TERMS + 1)))
        return tuple((n * math.pi, 6.0 / (n * math.pi) ** 2) for n in range(1, TERMS + 1))
    if shape == "slab":
        roots = [
            _between(lambda b: b * math.sin(b) - biot * math.cos(b), n * math.pi, (n + 0.5) * math.pi)
            for n in range(TERMS)
        ]
        return tuple((b, 2.0 * biot**2 / (b**2 * (b**2 + biot**2 + biot))) for b in roots)
    if shape == "cylinder":
        roots = [
            _between(lambda b: b * bessel_j(1, b) - biot * bessel_j(0, b), _slope_zero(n - 1), _bessel_zero(n))
            for n in range(1, TERMS + 1)
        ]
        return tuple((b, 4.0 * biot**2 / (b**2 * (b**2 + biot**2))) for b in roots)
    roots = [
        _between(lambda b: b * math.cos(b) + (biot - 1.0) * math.sin(b), (n - 1.0) * math.pi, n * math.pi)
        for n in range(1, TERMS + 1)
    ]
    return tuple((b, 6.0 * biot**2 / (b**2 * (b**2 + biot * (biot - 1.0)))) for b in roots)


def _early(fo: float, shape: Shape) -> float:
    """The first two moments while the core is still untouched: Crank eq. 4.20, 5.24 and 6.21 (numbers from memory)."""
    faces, bend = {"slab": (1.0, 0.0), "cylinder": (2.0, 1.0), "sphere": (3.0, 3.0)}[shape]
    return 1.0 - 2.0 * faces * math.sqrt(fo / math.pi) + bend * fo


def _between(function: Callable[[float], float], low: float, high: float) -> float:
    margin = 1e-9 * (high - low)
    return find_root(function, low + margin, high - margin)


@cache
def _bessel_zero(n: int) -> float:
    """The n-th zero of J0, bracketed around its asymptote (DLMF 10.21.19)."""
    guess = (n - 0.25) * math.pi
    return find_root(lambda x: bessel_j(0, x), guess - 0.5, guess + 0.5)


@cache
def _slope_zero(n: int) -> float:
    """The n-th zero of J1, counting the one at 0 as the zeroth."""
    guess = (n + 0.25) * math.pi
    return find_root(lambda x: bessel_j(1, x), guess - 0.5, guess + 0.5) if n else 0.0


def _exp(x: float) -> float:
    return math.exp(x) if x < 700.0 else math.inf


def _power(t: float, n: float) -> float:
    if t <= 0.0:
        return 0.0 if n > 0.0 else math.nan
    exponent = n * math.log(t)
    return math.exp(exponent) if exponent < 700.0 else math.inf
