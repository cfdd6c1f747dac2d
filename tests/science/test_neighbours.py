"""A neighbour's curve as a shape: it goes through its weighings, never rises, and too little of it shows nothing."""

from __future__ import annotations

import math
import random
from itertools import pairwise

import pytest

from dryward.science.neighbours import shown

TIMES = [3600.0 * i for i in range(25)]
SHARES = [0.4 + 0.6 * math.exp(-t / 40_000.0) for t in TIMES]


def test_the_shape_goes_through_the_neighbours_weighings() -> None:
    way = shown(TIMES, SHARES, 1e-5)
    assert way is not None
    shape, reach = way
    assert reach == pytest.approx(1.0 - SHARES[-1], rel=0.03)
    second = shape.stage(1.0 - 0.2 / reach)
    third = shape.stage(1.0 - 0.35 / reach)
    exact = math.log(1.0 - 0.35 / 0.6) / math.log(1.0 - 0.2 / 0.6)
    assert third / second == pytest.approx(exact, rel=0.03)


def test_stage_and_ratio_are_inverse_half_is_gone_at_one_and_it_never_rises() -> None:
    way = shown(TIMES, SHARES, 1e-5)
    assert way is not None
    shape, _ = way
    assert shape.ratio(1.0)[0] == pytest.approx(0.5, abs=0.02)
    for u in (0.95, 0.7, 0.4, 0.1):
        value, slope = shape.ratio(shape.stage(u))
        assert value == pytest.approx(u, abs=1e-6)
        z = shape.stage(u)
        assert slope == pytest.approx((shape.ratio(z + 1e-5)[0] - shape.ratio(z - 1e-5)[0]) / 2e-5, rel=1e-3)
    falling = [shape.ratio(0.01 * i)[0] for i in range(500)]
    assert all(a >= b for a, b in pairwise(falling))


def test_noise_makes_no_bends() -> None:
    chance = random.Random(4)
    noisy = [y + chance.gauss(0.0, 0.003) for y in SHARES]
    way = shown(TIMES, [1.0, *noisy[1:]], 0.003)
    assert way is not None
    shape, reach = way
    for loss in (0.1, 0.2, 0.3):
        exact_s = -40_000.0 * math.log(1.0 - loss / 0.6)
        half_s = -40_000.0 * math.log(1.0 - 0.5 * reach / 0.6)
        assert shape.stage(1.0 - loss / reach) == pytest.approx(exact_s / half_s, rel=0.08)


@pytest.mark.parametrize(("count", "noise"), [(2, 1e-5), (3, 1e-5), (25, 0.2)])
def test_too_little_of_a_curve_shows_nothing(count: int, noise: float) -> None:
    assert shown(TIMES[:count], SHARES[:count], noise) is None
