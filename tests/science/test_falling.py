"""How pieces dry against each other: checked against Crank's cylinder, and by what size and form must do."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import jn_zeros

from dryward.science.falling import fall, pace, rate, stage

ROOTS = jn_zeros(0, 400)


def crank_gone(fourier: float) -> float:
    """Share of the water that has left a long cylinder whose surface is dry: Crank 1975, eq. 5.23."""
    return 1.0 - sum(4.0 / a**2 * math.exp(-a * a * fourier) for a in ROOTS)


def crank_rate(fourier: float) -> float:
    return float(sum(4.0 * math.exp(-a * a * fourier) for a in ROOTS))


def test_the_series_used_here_is_crank_s() -> None:
    """Values at Fo 0.01 and 0.1 computed with mpmath from the same equation."""
    assert 1.0 - crank_gone(0.01) == pytest.approx(0.7845260618, abs=1e-9)
    assert 1.0 - crank_gone(0.1) == pytest.approx(0.3941758060, abs=1e-9)


def test_the_rate_falls_as_in_a_cylinder() -> None:
    """Only ratios count: within a tenth of each other from a seventh to four fifths of the water."""
    ratios = [crank_rate(f) / rate(crank_gone(f)) for f in (0.005, 0.01, 0.02, 0.05, 0.1, 0.15, 0.2)]
    assert max(ratios) / min(ratios) < 1.21


def test_the_stage_is_crank_s_time() -> None:
    ratios = [f / stage(crank_gone(f)) for f in (0.01, 0.02, 0.05, 0.1, 0.2, 0.3)]
    assert max(ratios) / min(ratios) < 1.22


@given(st.floats(0.02, 0.9))
def test_the_stage_is_the_integral_of_one_over_the_rate(gone: float) -> None:
    step = 1e-4
    assert (stage(gone + step) - stage(gone - step)) / (2.0 * step) == pytest.approx(1.0 / rate(gone), rel=0.01)


@given(st.floats(0.0, 0.95))
def test_the_fall_is_the_logarithmic_slope_of_the_rate(gone: float) -> None:
    step = 1e-6
    slope = (math.log(rate(gone)) - math.log(rate(gone + step))) / step
    assert fall(gone) == pytest.approx(slope, rel=1e-3)


@given(st.floats(50.0, 5000.0), st.floats(1.1, 3.0))
def test_a_piece_of_the_same_form_is_slower_by_the_square_of_its_size(green_g: float, times: float) -> None:
    """Diffusion time goes with length squared (dimensional analysis): 8 times the weight takes 4 times as long."""
    slower = pace(green_g=green_g, thickness_mm=None) / pace(green_g=green_g * times**3, thickness_mm=None)
    assert slower == pytest.approx(times**2, rel=1e-9)


def test_a_flat_piece_dries_faster_than_a_round_one_of_the_same_weight() -> None:
    assert pace(green_g=800.0, thickness_mm=40.0) > 1.3 * pace(green_g=800.0, thickness_mm=75.0)


def test_a_piece_of_unknown_thickness_is_taken_for_the_usual_one() -> None:
    """750 g are 70 mm thick: common practice, no source."""
    assert pace(green_g=750.0, thickness_mm=None) == pytest.approx(pace(green_g=750.0, thickness_mm=70.0), rel=0.02)
