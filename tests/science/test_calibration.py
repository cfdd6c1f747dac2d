"""Calibration arithmetic against standards, a reference library and worked figures."""

from __future__ import annotations

import math
import statistics

import CoolProp.CoolProp as coolprop
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.stats import linregress

from dryward.science.calibration import (
    Point,
    boiling_c,
    fit_offset,
    fit_scale,
    most_error_g,
    rh_over_salt_pct,
    standard_pressure_pa,
    weight_under,
)
from dryward.science.figures import BadFigures

loads = st.lists(st.sampled_from([0.0, 200.0, 500.0, 1000.0, 2000.0]), min_size=3, max_size=12).filter(
    lambda g: len(set(g)) > 1
)


@given(loads, st.data(), st.floats(-5e5, 5e5), st.floats(5.0, 500.0))
def test_the_line_is_the_least_squares_line(
    given_loads: list[float], data: st.DataObject, zero: float, per_g: float
) -> None:
    counts = [zero + per_g * load + data.draw(st.floats(-50.0, 50.0)) for load in given_loads]
    fit = fit_scale([Point(g, c) for g, c in zip(given_loads, counts, strict=True)])
    reference = linregress(given_loads, counts)
    assert fit.g_per_count == pytest.approx(1.0 / reference.slope, rel=1e-6)
    assert fit.zero_count == pytest.approx(reference.intercept, rel=1e-6, abs=1e-3)


def test_an_exact_cell_has_no_error_and_keeps_the_smallest_interval_that_reaches_its_load() -> None:
    fit = fit_scale([Point(g, 8000.0 + 100.0 * g) for g in (0.0, 500.0, 1000.0, 2000.0)])
    assert (fit.zero_count, fit.g_per_count) == pytest.approx((8000.0, 0.01))
    assert fit.errors_g == pytest.approx([0.0] * 4, abs=1e-9)
    assert (fit.repeatability_g, fit.tolerance_g, fit.interval_g) == (None, 0.01, 0.2)


def test_a_cell_wired_the_other_way_round_has_a_negative_factor() -> None:
    assert fit_scale([Point(0.0, 500.0), Point(1000.0, -99_500.0)]).g_per_count == pytest.approx(-0.01)


def test_a_bent_line_shows_in_the_linearity_and_not_in_the_repeatability() -> None:
    """Counts 0, 100, 220 over loads 0, 1000, 2000: the least-squares line misses by 3.33, 6.67 and 3.33 counts."""
    fit = fit_scale([Point(0.0, 0.0), Point(1000.0, 100.0), Point(2000.0, 220.0)])
    assert fit.g_per_count == pytest.approx(1.0 / 0.11)
    assert fit.linearity_g == pytest.approx(20.0 / 3.0 / 0.11)
    assert fit.repeatability_g is None


def test_repeatability_is_the_pooled_standard_deviation_within_loads() -> None:
    zero, kilo = [1.0, -1.0, 0.0], [100_002.0, 99_998.0, 100_000.0]
    fit = fit_scale([Point(0.0, c) for c in zero] + [Point(1000.0, c) for c in kilo])
    pooled = math.sqrt((statistics.variance(zero) + statistics.variance(kilo)) / 2.0) * 0.01
    assert fit.repeatability_g == pytest.approx(pooled)
    assert fit.linearity_g is None, "two loads lie on any line"
    assert fit.tolerance_g == 0.05, "twice 0.016, rounded up to 1, 2 or 5"


@pytest.mark.parametrize(
    ("load_g", "allowed_g"), [(0, 0.5), (500, 0.5), (501, 1.0), (2000, 1.0), (2001, 1.5), (10_000, 1.5), (10_001, None)]
)
def test_the_limits_of_class_iii_are_those_of_oiml_r_76(load_g: float, allowed_g: float | None) -> None:
    """Table 6 of R 76-1, initial verification, here with e = 1 g."""
    assert most_error_g(load_g, interval_g=1.0) == allowed_g


def test_the_interval_is_the_smallest_whose_limits_every_point_keeps() -> None:
    def interval(error_g: float) -> float:
        """A cell that is right but at 2000 g, where one of many weighings errs."""
        points = [Point(g, g) for g in (0.0, 1000.0, 2000.0) for _ in range(200)]
        return fit_scale([*points, Point(2000.0, 2000.0 + error_g)]).interval_g

    assert interval(0.7) == 0.5, "1.5 e is 0.75 g at 4000 e; 0.2 g would allow 0.3"
    assert interval(0.95) == 1.0, "1.0 e at 2000 e"


@pytest.mark.parametrize(
    ("points", "why"),
    [
        ([], "one load only"),
        ([Point(500.0, 1.0)] * 3, "one load only"),
        ([Point(0.0, 7.0), Point(500.0, 7.0)], "do not follow"),
        ([Point(0.0, 1.0), Point(-5.0, 2.0)], "between 0"),
    ],
)
def test_points_that_make_no_line_are_refused_with_the_cure(points: list[Point], why: str) -> None:
    with pytest.raises(BadFigures, match=why):
        fit_scale(points)


@given(
    st.floats(-100.0, 20_000.0), st.floats(-1e5, 1e5), st.floats(-1e5, 1e5), st.floats(1e-3, 1.0), st.floats(1e-3, 1.0)
)
def test_a_weight_under_another_calibration_is_of_the_same_counts(
    weight: float, zero: float, other_zero: float, per: float, other_per: float
) -> None:
    again = weight_under(weight, was=(zero, per), now=(other_zero, other_per))
    assert again / other_per + other_zero == pytest.approx(weight / per + zero, rel=1e-9, abs=1e-6)
    assert weight_under(weight, was=(zero, per), now=(zero, per)) == pytest.approx(weight, rel=1e-9, abs=1e-6)


def test_one_point_gives_the_plain_difference() -> None:
    fit = fit_offset([Point(0.0, 0.4), Point(0.0, 0.6)])
    assert fit.offset == pytest.approx(-0.5)
    assert fit.errors == pytest.approx([-0.1, 0.1])


def test_ice_and_boiling_water_give_the_correction_where_it_is_wanted() -> None:
    """Shows 0.4 in ice and 99.0 where water boils at 99.6: minus 0.4 and plus 0.6, at 80 shown 0.4 + 79.6 / 98.6 of the way."""
    points = [Point(0.0, 0.4), Point(99.6, 99.0)]
    assert fit_offset(points, at=80.0).offset == pytest.approx(-0.4 + 1.0 * 79.6 / 98.6)
    assert fit_offset(points, at=0.4).offset == pytest.approx(-0.4)
    assert fit_offset(points).at == pytest.approx(49.7)


def test_a_sensor_that_is_far_out_is_called_broken() -> None:
    with pytest.raises(BadFigures, match="broken"):
        fit_offset([Point(0.0, 30.0)])
    with pytest.raises(BadFigures, match="no point"):
        fit_offset([])


@given(st.floats(50_000.0, 110_000.0))
def test_water_boils_where_the_reference_library_says(pressure_pa: float) -> None:
    assert boiling_c(pressure_pa) == pytest.approx(
        coolprop.PropsSI("T", "P", pressure_pa, "Q", 0, "Water") - 273.15, abs=0.02
    )


@pytest.mark.parametrize(
    ("altitude_m", "pressure_pa"), [(0, 101_325), (500, 95_461), (1000, 89_876), (2000, 79_501), (5000, 54_048)]
)
def test_the_standard_atmosphere_is_that_of_iso_2533(altitude_m: float, pressure_pa: float) -> None:
    """Table of ISO 2533 (the same as ICAO's and the U.S. Standard Atmosphere 1976), from memory. 40 Pa: its heights are geopotential."""
    assert standard_pressure_pa(altitude_m) == pytest.approx(pressure_pa, abs=40.0)


@pytest.mark.parametrize(
    ("salt", "at_c", "rh_pct"),
    [
        ("MgCl2", 20, 33.1),
        ("NaBr", 30, 56.0),
        ("NaCl", 10, 75.7),
        ("NaCl", 20, 75.5),
        ("NaCl", 80, 73.9),
        ("KCl", 50, 81.2),
        ("K2SO4", 50, 95.8),
        ("nacl", 25, 75.3),
        ("NaBr", 60, 50.3),
    ],
)
def test_salt_jars_stand_where_oiml_r_121_says(salt: str, at_c: float, rh_pct: float) -> None:
    """R 121 (1996), table 1; in between by straight lines."""
    assert rh_over_salt_pct(salt, at_c=at_c) == pytest.approx(rh_pct)


@pytest.mark.parametrize(
    ("salt", "at_c", "why"),
    [("LiCl", 20.0, "use one of MgCl2"), ("NaCl", 5.0, "between 10 and 80"), ("K2SO4", 60.0, "between 10 and 50")],
)
def test_a_jar_off_the_table_is_refused(salt: str, at_c: float, why: str) -> None:
    with pytest.raises(BadFigures, match=why):
        rh_over_salt_pct(salt, at_c=at_c)


@given(
    st.lists(st.tuples(st.floats(-15.0, 15.0), st.floats(0.0, 100.0)), min_size=1, max_size=6), st.floats(0.0, 100.0)
)
def test_an_offset_is_always_finite_and_its_errors_follow_from_it(pairs: list[tuple[float, float]], at: float) -> None:
    points = [Point(shown + error, shown) for error, shown in pairs]
    try:
        fit = fit_offset(points, at=at)
    except BadFigures:
        assume(False)
    assert math.isfinite(fit.offset)
    assert fit.errors == pytest.approx([p.shown + fit.offset - p.reference for p in points])
