"""Nonlinear least squares against certified values and against scipy.

Certified values: NIST/ITL Statistical Reference Datasets, nonlinear regression (files in tests/data/nist).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import optimize

from dryward.science.fit import Fit, FitError, Residuals, fit, fit_best, grid

NIST = Path(__file__).parents[1] / "data" / "nist"


@dataclass(frozen=True)
class Certified:
    """One reference data set: its two starts, certified parameters, their standard deviations, sum of squares, data (y, x)."""

    starts: tuple[tuple[float, ...], tuple[float, ...]]
    parameters: tuple[float, ...]
    errors: tuple[float, ...]
    sum_squares: float
    data: tuple[tuple[float, float], ...]


def certified(name: str) -> Certified:
    lines = (NIST / f"{name}.dat").read_text().splitlines()
    table = [
        [float(cell) for cell in line.split("=")[1].split()] for line in lines[40:60] if line.strip().startswith("b")
    ]
    squares = next(float(line.split(":")[1]) for line in lines if line.startswith("Residual Sum of Squares"))
    first, second, parameters, errors = zip(*table, strict=True)
    data = tuple((float(y), float(x)) for y, x in (line.split() for line in lines[60:] if line.strip()))
    return Certified((first, second), parameters, errors, squares, data)


def rise(x: float, b: Sequence[float]) -> float:
    return b[0] * (1.0 - math.exp(min(-b[1] * x, 700.0)))


def three_decays(x: float, b: Sequence[float]) -> float:
    return sum(b[i] * math.exp(min(-b[i + 1] * x, 700.0)) for i in (0, 2, 4))


def against(model: Callable[[float, Sequence[float]], float], case: Certified) -> Residuals:
    return lambda b: [model(x, b) - y for y, x in case.data]


def holds(found: Fit, case: Certified) -> None:
    assert found.converged
    assert found.parameters == pytest.approx(case.parameters, rel=1e-7)
    assert found.errors == pytest.approx(case.errors, rel=1e-5)
    assert found.sum_squares == pytest.approx(case.sum_squares, rel=1e-6)


@pytest.mark.parametrize(
    ("name", "model", "start"),
    [
        ("Misra1a", rise, 0),
        ("Misra1a", rise, 1),
        ("BoxBOD", rise, 1),
        ("Lanczos3", three_decays, 0),
        ("Lanczos3", three_decays, 1),
    ],
)
def test_a_fit_reaches_the_certified_values(
    name: str, model: Callable[[float, Sequence[float]], float], start: int
) -> None:
    case = certified(name)
    holds(fit(against(model, case), case.starts[start]), case)


def test_several_starts_escape_the_valley_that_traps_one() -> None:
    """From start 1 of BoxBOD plain least squares ends in a wrong minimum; with a spread of starts it does not."""
    case = certified("BoxBOD")
    trapped = fit(against(rise, case), case.starts[0])
    assert trapped.sum_squares > 2.0 * case.sum_squares
    holds(fit_best(against(rise, case), [case.starts[0], *grid((50.0, 150.0), (0.1, 1.0))]), case)


@given(st.floats(0.2, 5.0), st.floats(0.3, 2.0), st.floats(-0.3, 0.3))
def test_a_fit_agrees_with_scipy(a: float, k: float, wiggle: float) -> None:
    times = [0.2 * i for i in range(1, 16)]
    seen = [a * math.exp(-k * t) + 0.1 * wiggle * math.sin(9.0 * t) for t in times]

    def residuals(b: Sequence[float]) -> list[float]:
        return [b[0] * math.exp(min(-b[1] * t, 700.0)) - y for t, y in zip(times, seen, strict=True)]

    ours = fit(residuals, (1.0, 1.0))
    theirs = optimize.least_squares(residuals, (1.0, 1.0), xtol=1e-12, ftol=1e-12, gtol=1e-12)
    assert ours.parameters == pytest.approx(theirs.x.tolist(), rel=1e-5)


@given(st.floats(1e-6, 1e6), st.floats(1e-6, 1e6))
def test_units_do_not_matter(gram: float, second: float) -> None:
    """The same curve in other units gives the same fit in those units."""
    times = [1.0, 2.0, 4.0, 8.0]

    def residuals(b: Sequence[float]) -> list[float]:
        return [
            b[0] * math.exp(min(-b[1] * t * second, 700.0)) - gram * (math.exp(-0.3 * t) + 0.01 * (-1) ** i)
            for i, t in enumerate(times)
        ]

    found = fit(residuals, (gram, 0.5 / second))
    plain = fit(lambda b: [r / gram for r in residuals((b[0] * gram, b[1] / second))], (1.0, 0.5))
    assert found.parameters[0] / gram == pytest.approx(plain.parameters[0], rel=1e-6)
    assert found.parameters[1] * second == pytest.approx(plain.parameters[1], rel=1e-6)


def test_a_start_outside_the_allowed_range_is_refused_and_skipped() -> None:
    def residuals(b: Sequence[float]) -> list[float]:
        return [math.log(b[0]) - 1.0] if b[0] > 0.0 else [math.nan]

    with pytest.raises(FitError, match="no finite residuals"):
        fit(residuals, (-1.0,))
    with pytest.raises(FitError, match="no start"):
        fit_best(residuals, [(-1.0,), (-2.0,)])
    assert fit_best(residuals, [(-1.0,), (1.0,)]).parameters[0] == pytest.approx(math.e, rel=1e-9)


def test_a_parameter_without_effect_stays_where_it_is() -> None:
    found = fit(lambda b: [b[0] - 3.0, 2.0 * b[0] - 6.0, 0.0], (1.0, 7.0))
    assert found.parameters == pytest.approx((3.0, 7.0))
    assert found.errors == ()
