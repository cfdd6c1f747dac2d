"""What known weights, ice, boiling water and salt jars say about a sensor: fits, errors, reference values.

A scale's counts are fitted on the loads by a straight line; a thermometer or a humidity sensor gets one correction, since
that is what the chamber file holds, taken from a straight line through its errors at the value where it matters.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from statistics import fmean
from types import MappingProxyType

from dryward.science.air import SEA_LEVEL_PA, saturation_pa
from dryward.science.figures import BadFigures, outside, refuse

ICE_C = 0.0
MOST_OFFSET = 20.0  # what the chamber file allows; a sensor that is further out is broken
OLD_DAYS: Mapping[str, float] = MappingProxyType({"scale": 90.0, "thermometer": 365.0, "humidity": 180.0})
"""Age at which a calibration should be made anew (common practice, no source)."""

SALT_TEMPERATURES_C = (10.0, 20.0, 30.0, 50.0, 70.0, 80.0)
SALTS_PCT: Mapping[str, tuple[float, ...]] = MappingProxyType(
    {
        "MgCl2": (33.5, 33.1, 32.4, 30.5, 27.8, 26.1),
        "NaBr": (62.2, 59.1, 56.0, 50.9, 49.7, 51.4),
        "NaCl": (75.7, 75.5, 75.1, 74.5, 74.1, 73.9),
        "KCl": (86.8, 85.1, 83.6, 81.2, 79.5, 78.9),
        "K2SO4": (98.2, 97.6, 97.0, 95.8),
    }
)
"""Relative humidity over saturated salts at those temperatures, %RH: OIML R 121 (1996), table 1."""

CLASS_III = ((500.0, 0.5), (2000.0, 1.0), (10_000.0, 1.5))
"""OIML R 76, class III, initial verification: up to so many intervals e, the error may be so many e."""


@dataclass(frozen=True, slots=True)
class Point:
    """One comparison: what is true, what the device showed (counts of a cell, degC, %RH)."""

    reference: float
    shown: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaleFit:
    """A cell's straight line and how well it holds. ``errors_g`` are shown minus true, in the order of the points."""

    zero_count: float
    g_per_count: float
    errors_g: tuple[float, ...]
    linearity_g: float | None  # largest mean error of a load; None: two loads lie on any line
    repeatability_g: float | None  # standard deviation within the loads; None: nothing was weighed twice
    tolerance_g: float  # what to expect of a reading: the larger of the largest error and twice the repeatability
    interval_g: float  # smallest e of 1, 2, 5 ... whose class III limits every point keeps


@dataclass(frozen=True, slots=True, kw_only=True)
class OffsetFit:
    """A sensor's correction at ``at``. ``errors`` are shown plus offset minus true, in the order of the points."""

    offset: float
    at: float
    errors: tuple[float, ...]


def fit_scale(points: Sequence[Point]) -> ScaleFit:
    """Fit a cell: loads in g, counts. Raises BadFigures for fewer than two loads, or counts that do not follow them."""
    loads = sorted({p.reference for p in points})
    refuse(*(outside("load", load, "g", low=0.0, high=1e6) for load in loads))
    if len(loads) < 2:
        raise BadFigures(["there is one load only; weigh at least the empty hook and one known weight"])
    counts_per_g, zero = _line([p.reference for p in points], [p.shown for p in points])
    if abs(counts_per_g) < 1e-9:
        raise BadFigures(
            ["the counts do not follow the weight; look at the cell's wires and whether it is free to bend"]
        )
    errors = tuple((p.shown - zero) / counts_per_g - p.reference for p in points)
    by_load = [[e for p, e in zip(points, errors, strict=True) if p.reference == load] for load in loads]
    repeatability = _spread(by_load)
    largest = max(map(abs, errors))
    return ScaleFit(
        zero_count=zero,
        g_per_count=1.0 / counts_per_g,
        errors_g=errors,
        linearity_g=max(abs(fmean(e)) for e in by_load) if len(loads) > 2 else None,
        repeatability_g=repeatability,
        tolerance_g=_round_up(max(largest, 2.0 * (repeatability or 0.0))),
        interval_g=_interval_g(points, errors),
    )


def most_error_g(load_g: float, *, interval_g: float) -> float | None:
    """Error that OIML R 76 allows a class III scale of verification interval e at a load, g; None above 10 000 e."""
    return next((share * interval_g for most, share in CLASS_III if load_g <= most * interval_g), None)


def weight_under(weight_g: float, *, was: tuple[float, float], now: tuple[float, float]) -> float:
    """Return what a recorded weight is under another calibration; each is (zero count, g per count)."""
    return (weight_g / was[1] + was[0] - now[0]) * now[1]


def fit_offset(points: Sequence[Point], *, at: float | None = None) -> OffsetFit:
    """Find the correction at a shown value ``at``; left out: the middle of what was shown. Raises BadFigures."""
    if not points:
        raise BadFigures(["there is no point yet"])
    shown = [p.shown for p in points]
    if at is None:
        at = (min(shown) + max(shown)) / 2.0
    corrections = [p.reference - p.shown for p in points]
    slope, start = _line(shown, corrections) if max(shown) - min(shown) > 1.0 else (0.0, fmean(corrections))
    offset = start + slope * at
    refuse(
        outside(
            "offset",
            offset,
            "",
            low=-MOST_OFFSET,
            high=MOST_OFFSET,
            cure="A sensor that far out is broken, or the reference is not what it should be",
        )
    )
    return OffsetFit(offset=offset, at=at, errors=tuple(p.shown + offset - p.reference for p in points))


def standard_pressure_pa(altitude_m: float) -> float:
    """Air pressure at a height in the standard atmosphere (ISO 2533), -500 to 5000 m. Weather moves it by 2 %."""
    refuse(outside("altitude", altitude_m, "m", low=-500.0, high=5000.0))
    return float(SEA_LEVEL_PA * (1.0 - 2.25577e-5 * altitude_m) ** 5.25588)


def boiling_c(pressure_pa: float) -> float:
    """Temperature at which water boils at a pressure, degC."""
    refuse(outside("pressure", pressure_pa, "Pa", low=50_000.0, high=110_000.0, cure="1 hPa or mbar is 100 Pa"))
    low, high = 80.0, 105.0
    for _ in range(40):
        middle = (low + high) / 2.0
        low, high = (middle, high) if saturation_pa(middle) < pressure_pa else (low, middle)
    return low


def rh_over_salt_pct(salt: str, *, at_c: float) -> float:
    """Relative humidity over a saturated salt, %RH, between the temperatures of the table by straight lines."""
    known = {name.lower(): name for name in SALTS_PCT}
    if salt.lower() not in known:
        raise BadFigures([f"salt is {salt!r}; use one of {', '.join(SALTS_PCT)}"])
    values = SALTS_PCT[known[salt.lower()]]
    top_c = SALT_TEMPERATURES_C[len(values) - 1]
    refuse(
        outside(f"temperature of the {known[salt.lower()]} jar", at_c, "degC", low=SALT_TEMPERATURES_C[0], high=top_c)
    )
    place = max(i for i in range(len(values) - 1) if SALT_TEMPERATURES_C[i] <= at_c)
    low_c, high_c = SALT_TEMPERATURES_C[place : place + 2]
    share = (at_c - low_c) / (high_c - low_c)
    return values[place] + share * (values[place + 1] - values[place])


def _line(xs: Sequence[float], ys: Sequence[float]) -> tuple[float, float]:
    """Return slope and value at 0 of the least-squares line."""
    middle_x, middle_y = fmean(xs), fmean(ys)
    square = math.fsum((x - middle_x) ** 2 for x in xs)
    slope = math.fsum((x - middle_x) * (y - middle_y) for x, y in zip(xs, ys, strict=True)) / square
    return slope, middle_y - slope * middle_x


def _spread(groups: Sequence[Sequence[float]]) -> float | None:
    """Standard deviation within the groups, pooled; None when no group has two."""
    freedom = sum(len(g) - 1 for g in groups)
    squares = math.fsum((e - fmean(g)) ** 2 for g in groups for e in g)
    return math.sqrt(squares / freedom) if freedom else None


def _round_up(value: float) -> float:
    """Return the next 1, 2 or 5 times a power of ten, 0.01 at least."""
    tens = 10.0 ** math.floor(math.log10(max(value, 0.01)))
    return round(next(step * tens for step in (1.0, 2.0, 5.0, 10.0) if step * tens >= value * (1.0 - 1e-9)), 2)


def _interval_g(points: Sequence[Point], errors: Sequence[float]) -> float:
    """Smallest interval e, 0.1 g at least as R 76 asks of class III, at which every point keeps what class III allows."""

    def kept(e: float) -> bool:
        allowed = [most_error_g(p.reference, interval_g=e) for p in points]
        return all(most is not None and abs(error) <= most for most, error in zip(allowed, errors, strict=True))

    e = 0.1
    while not kept(e):
        e = _round_up(e * 1.5)
    return e
