"""Moisture in one dimension, against Crank's series."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dryward_hardware.twin.diffusion import NODES, Diffusion

D, DEPTH_M = 2.7e-10, 0.035
# Mean moisture ratio without surface resistance, Fourier number: value. Source: J. Crank, The Mathematics of Diffusion,
# computed with mpmath.
SLAB = {0.01: 0.8871620833, 0.1: 0.6431765995, 0.5: 0.2360496693, 1.0: 0.06874032154}
CYLINDER = {0.01: 0.7845260618, 0.1: 0.3941758060}
# With surface resistance, Biot number 10, same source.
SLAB_BI_10 = {0.1: 0.72611772, 0.5: 0.31501627}


def dry(body: Diffusion, *, until_s: float, dt_s: float, biot: float | None = None) -> None:
    """Let an isothermal body dry into bone-dry air, with no surface resistance or with a Biot number."""
    steps = round(until_s / dt_s)
    film = 0.0 if biot is None else biot * D * body.dry_kg / DEPTH_M**2
    for _ in range(steps):
        body.ready(until_s / steps, [D] * (NODES - 1), wet=3.0, floor=1.0)
        taken = body.r if biot is None else film * body.r / (body.m + film * until_s / steps) * until_s / steps
        body.take(taken)


@pytest.mark.parametrize(("cylinder", "series"), [(False, SLAB), (True, CYLINDER)])
def test_a_body_without_surface_resistance_follows_cranks_series_within_1_per_cent(
    cylinder: bool, series: dict[float, float]
) -> None:
    for fourier, ratio in series.items():
        body = Diffusion(cylinder=cylinder, depth_m=DEPTH_M, dry_kg=0.2, moisture=3.0)
        start = body.water_kg
        dry(body, until_s=fourier * DEPTH_M**2 / D, dt_s=60.0)
        assert body.water_kg / start == pytest.approx(ratio, rel=0.01)


def test_a_slab_with_surface_resistance_follows_cranks_series_within_1_per_cent() -> None:
    for fourier, ratio in SLAB_BI_10.items():
        body = Diffusion(cylinder=False, depth_m=DEPTH_M, dry_kg=0.2, moisture=3.0)
        start = body.water_kg
        dry(body, until_s=fourier * DEPTH_M**2 / D, dt_s=60.0, biot=10.0)
        assert body.water_kg / start == pytest.approx(ratio, rel=0.01)


@given(
    dt_s=st.floats(0.25, 3600.0),
    floor=st.floats(0.01, 1.0),
    shares=st.lists(st.floats(0.0, 1.0), min_size=1, max_size=30),
    cylinder=st.booleans(),
)
def test_mass_is_kept_and_no_node_dries_below_nothing(
    dt_s: float, floor: float, shares: list[float], cylinder: bool
) -> None:
    body = Diffusion(cylinder=cylinder, depth_m=0.01, dry_kg=0.1, moisture=3.0)
    for share in shares:
        before = body.water_kg
        body.ready(dt_s, [1e-9] * (NODES - 1), wet=3.0, floor=floor)
        taken = share * body.r  # all of body.r would leave the surface bone dry
        body.take(taken)
        assert body.water_kg == pytest.approx(before - taken, rel=1e-9, abs=1e-12)
        assert min(body.moisture) >= -1e-12
        assert max(body.moisture) <= 3.0 + 1e-9


def test_a_sealed_body_keeps_its_water_and_evens_out() -> None:
    body = Diffusion(cylinder=True, depth_m=0.01, dry_kg=0.1, moisture=3.0)
    body.ready(600.0, [1e-9] * (NODES - 1), wet=3.0, floor=1.0)
    body.take(body.r)
    left = body.water_kg
    for _ in range(3000):
        body.ready(600.0, [1e-9] * (NODES - 1), wet=3.0, floor=1.0)
        body.take(0.0)
    assert body.water_kg == pytest.approx(left)
    assert max(body.moisture) - min(body.moisture) < 1e-6


def test_dryness_slows_it_down() -> None:
    """Diffusivity falls with moisture: the same body loses less where the dry share is smaller."""
    lost = []
    for floor in (1.0, 0.25):
        body = Diffusion(cylinder=True, depth_m=0.02, dry_kg=0.1, moisture=3.0)
        for _ in range(500):
            body.ready(60.0, [5e-10] * (NODES - 1), wet=3.0, floor=floor)
            body.take(body.r)
        lost.append(0.3 - body.water_kg)
    assert lost[1] < 0.8 * lost[0]
