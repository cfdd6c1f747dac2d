"""The shapes a drying curve can take; each is its own inverse's inverse, and those with a name are the published ones."""

from __future__ import annotations

import math

import pytest

from dryward.science.curves import crank
from dryward.science.shapes import DRIEST, Shape, shapes

BY_NAME = {shape.name: shape for shape in shapes()}


@pytest.mark.parametrize("shape", shapes(), ids=lambda s: s.name)
def test_stage_and_ratio_are_inverse_and_half_is_gone_at_one(shape: Shape) -> None:
    assert shape.ratio(1.0)[0] == pytest.approx(0.5, abs=1e-3)
    for u in (0.95, 0.8, 0.5, 0.2, 0.05, 0.01):
        assert shape.ratio(shape.stage(u))[0] == pytest.approx(u, rel=0.02)


@pytest.mark.parametrize("shape", shapes(), ids=lambda s: s.name)
def test_the_slope_is_that_of_the_curve_and_never_rises(shape: Shape) -> None:
    for z in (0.2, 0.7, 1.3):
        u, slope = shape.ratio(z)
        assert slope < 0.0
        if u > 10.0 * DRIEST:
            assert slope == pytest.approx((shape.ratio(z + 1e-3)[0] - shape.ratio(z - 1e-3)[0]) / 2e-3, rel=0.08)


def test_page_with_exponent_one_is_the_exponential_of_lewis() -> None:
    """Lewis 1921: the moisture ratio falls exponentially."""
    for z in (0.3, 1.0, 2.5):
        assert BY_NAME["Page 1"].ratio(z)[0] == pytest.approx(math.exp(-math.log(2.0) * z))


def test_the_slab_is_cranks() -> None:
    """Crank, The Mathematics of Diffusion: half is gone from a slab at a Fourier number near 0.197 (computed with our series)."""
    half = 0.19674
    assert crank(half, shape="slab") == pytest.approx(0.5, abs=1e-3)
    for z in (0.25, 1.0, 2.0):
        assert BY_NAME["slab"].ratio(z)[0] == pytest.approx(crank(half * z, shape="slab"), abs=2e-3)
