"""Drying models: their identities, published fits, and Crank's series against values from mpmath and scipy."""

from __future__ import annotations

import csv
import math
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, optimize

from dryward.science import curves
from dryward.science.curves import THIN_LAYERS, Shape, crank, fit_thin_layer

DATA = Path(__file__).parents[1] / "data"
MODEL = {model.name: model for model in THIN_LAYERS}
times = st.floats(0.0, 1e5)
rates = st.floats(1e-6, 10.0)
powers = st.floats(0.3, 2.5)
shapes = st.sampled_from(("slab", "cylinder", "sphere"))


@given(times, rates)
def test_page_with_exponent_one_is_lewis(t: float, k: float) -> None:
    assert curves.page(t, k, 1.0) == pytest.approx(curves.lewis(t, k), rel=1e-9)


@given(times, st.floats(0.1, 1e5), powers)
def test_weibull_is_page(t: float, scale: float, n: float) -> None:
    assert curves.weibull(t, scale, n) == pytest.approx(curves.page(t, scale**-n, n), rel=1e-7, abs=1e-300)


@given(times, rates, powers, st.floats(0.1, 2.0))
def test_simple_models_are_special_cases_of_the_others(t: float, k: float, n: float, a: float) -> None:
    assert curves.logarithmic(t, a, k, 0.0) == curves.henderson_pabis(t, a, k)
    assert curves.two_term(t, a, k, 0.0, 1.0) == curves.henderson_pabis(t, a, k)
    assert curves.midilli(t, 1.0, k, n, 0.0) == curves.page(t, k, n)
    assert curves.henderson_pabis(t, 1.0, k) == curves.lewis(t, k)


@given(times, st.floats(0.1, 1.0), rates, st.floats(0.0, 0.9))
def test_a_logarithmic_curve_stays_above_its_floor(t: float, a: float, k: float, c: float) -> None:
    assert curves.logarithmic(t, a, k, c) >= c


def rice() -> dict[str, tuple[list[float], list[float]]]:
    """Times in minutes and moisture ratios of each curve."""
    found: dict[str, tuple[list[float], list[float]]] = {}
    with (DATA / "drying_curves_rice.csv").open() as file:
        for row in csv.DictReader(file):
            minutes, ratios = found.setdefault(row["condition_id"], ([], []))
            minutes.append(float(row["t"]) / 60.0)
            ratios.append(float(row["MR"]))
    return found


@pytest.mark.parametrize(
    ("curve", "model", "expected"),
    [
        ("Nadu_T45", "Lewis", (0.0113836,)),
        ("Nadu_T45", "Page", (0.0341443, 0.737460)),
        ("Nadu_T65", "Page", (0.0664609, 0.697159)),
        ("Samba_T45", "Page", (0.0353274, 0.782318)),
    ],
)
def test_rice_fits_agree_with_scipy_and_lmfit(curve: str, model: str, expected: tuple[float, ...]) -> None:
    """Values per minute, computed with scipy 1.17.1 and lmfit, which agree."""
    found = fit_thin_layer(MODEL[model], *rice()[curve])
    assert found.parameters == pytest.approx(expected, rel=2e-5)


def test_the_rice_fit_leaves_the_rmse_that_scipy_leaves() -> None:
    minutes, ratios = rice()["Nadu_T45"]
    assert fit_thin_layer(MODEL["Page"], minutes, ratios).rmse(len(minutes)) == pytest.approx(0.010393, abs=5e-7)


@pytest.mark.parametrize("model", THIN_LAYERS, ids=lambda model: model.name)
def test_every_model_fits_rice_as_well_as_scipy_started_at_our_answer(model: curves.ThinLayer) -> None:
    minutes, ratios = rice()["Samba_T45"]
    found = fit_thin_layer(model, minutes, ratios)
    theirs = optimize.least_squares(
        lambda at: [model.formula(t, *at) - ratio for t, ratio in zip(minutes, ratios, strict=True)],
        found.parameters,
        x_scale="jac",
    )
    assert found.sum_squares <= 2.0 * theirs.cost * (1.0 + 1e-6)


@pytest.mark.parametrize("model", THIN_LAYERS, ids=lambda model: model.name)
def test_the_unit_of_time_does_not_matter(model: curves.ThinLayer) -> None:
    minutes, ratios = rice()["Nadu_T45"]
    in_minutes = fit_thin_layer(model, minutes, ratios).parameters
    in_seconds = fit_thin_layer(model, [60.0 * t for t in minutes], ratios).parameters
    for t in (5.0, 40.0, 100.0):
        assert model.formula(t, *in_minutes) == pytest.approx(model.formula(60.0 * t, *in_seconds), abs=1e-6)


def test_too_few_points_for_a_model_are_refused() -> None:
    with pytest.raises(ValueError, match="Midilli has 4 parameters"):
        fit_thin_layer(MODEL["Midilli"], (0.0, 1.0, 2.0), (1.0, 0.6, 0.4))


@pytest.mark.parametrize(
    ("shape", "biot", "fo", "expected"),
    [
        ("slab", math.inf, 0.01, 0.8871620833),
        ("slab", math.inf, 0.1, 0.6431765995),
        ("slab", math.inf, 0.5, 0.2360496693),
        ("slab", math.inf, 1.0, 0.06874032154),
        ("cylinder", math.inf, 0.01, 0.7845260618),
        ("cylinder", math.inf, 0.1, 0.3941758060),
        ("sphere", math.inf, 0.01, 0.6914862499),
        ("sphere", math.inf, 0.1, 0.2295212620),
        ("sphere", math.inf, 0.5, 0.004372141212),
        ("slab", 10.0, 0.1, 0.72611772),
        ("slab", 10.0, 0.5, 0.31501627),
    ],
)
def test_cranks_series_has_the_values_of_mpmath(shape: Shape, biot: float, fo: float, expected: float) -> None:
    """Series of Crank, The Mathematics of Diffusion, summed with mpmath."""
    assert crank(fo, shape=shape, biot=biot) == pytest.approx(expected, rel=2e-8)


@pytest.mark.parametrize("shape", ["slab", "cylinder", "sphere"])
@pytest.mark.parametrize("biot", [0.5, 3.0, 20.0])
def test_cranks_series_agrees_with_the_equation_solved_by_scipy(shape: Shape, biot: float) -> None:
    """Finite volumes of the diffusion equation with surface resistance, integrated by scipy's stiff solver."""
    count, power = 200, {"slab": 0, "cylinder": 1, "sphere": 2}[shape]
    width = 1.0 / count
    edges = [i * width for i in range(count + 1)]
    volumes = [(b ** (power + 1) - a ** (power + 1)) / (power + 1) for a, b in pairwise(edges)]

    def slope(_: float, u: list[float]) -> list[float]:
        flow = [
            0.0,
            *(-(edges[i] ** power) * (u[i] - u[i - 1]) / width for i in range(1, count)),
            u[-1] / (1.0 / biot + width / 2.0),
        ]
        return [(flow[i] - flow[i + 1]) / volumes[i] for i in range(count)]

    fos = (0.02, 0.1, 0.4)
    solved = integrate.solve_ivp(
        slope, (0.0, 0.4), [1.0] * count, method="LSODA", t_eval=fos, lband=1, uband=1, rtol=1e-7, atol=1e-9
    )
    for index, fo in enumerate(fos):
        mean = sum(v * u for v, u in zip(volumes, solved.y[:, index], strict=True)) / sum(volumes)
        assert crank(fo, shape=shape, biot=biot) == pytest.approx(mean, abs=2e-4)


@given(shapes, st.floats(0.0, 2.0), st.floats(0.0, 0.5))
def test_a_moisture_ratio_only_falls(shape: Shape, fo: float, more: float) -> None:
    """But for the seam of 2e-5 where the early formula hands over to the series."""
    assert 1.0 >= crank(fo, shape=shape) >= crank(fo + more, shape=shape) - 2e-5 >= -2e-5


def test_the_early_formula_meets_the_series_without_a_seam() -> None:
    for shape in ("slab", "cylinder", "sphere"):
        assert crank(0.00099999, shape=shape) == pytest.approx(crank(0.001, shape=shape), abs=2e-5)


def test_a_small_biot_number_dries_like_lewis() -> None:
    """With all resistance at the surface a body of half thickness 1 loses Bi Fo per unit of its content."""
    for fo in (1.0, 10.0, 50.0):
        assert crank(fo, shape="slab", biot=0.001) == pytest.approx(math.exp(-0.001 * fo), abs=1e-3)
