"""A curve that stalls or slows down beyond its nature is told; a healthy one in any program is not."""

from __future__ import annotations

from bisect import bisect_left
from math import exp

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dryward.science.curve_watch import trouble
from dryward.science.falling import WATER, stage
from dryward.science.pace import LIMITS, STANDARD, AirAt, log_power, power

H = 3600.0
GREEN_G = 1000.0
GRID = [0.0005 * k for k in range(1, 1900)]
STAGES = [stage(gone) for gone in GRID]


def weight_g(z: float) -> float:
    """The weight at a stage of falling.py: the shape that pieces are measured with."""
    return GREEN_G * (1.0 - WATER * GRID[min(len(GRID) - 1, bisect_left(STAGES, z))])


def curve(
    hours: float, slow_from_h: float = 1e9, slow: float = 1.0, airs: list[AirAt] | None = None
) -> list[tuple[float, float]]:
    """A piece that is at 35 % loss after 60 h, weighed each half hour; from some hour on its pace is ``slow`` times as fast."""
    z, rows = 0.0, []
    whole = stage(0.35 / WATER)
    for k in range(int(2 * hours) + 1):
        t = k * 0.5 * H
        rows.append((t, round(weight_g(z), 1)))
        here = next((a for a in reversed(airs or []) if a.t_s <= t), None)
        speed = 1.0 if here is None else exp(log_power(power(here), STANDARD, LIMITS[4]))
        z += whole / 120.0 * speed * (slow if t >= slow_from_h * H else 1.0)
    return rows


@pytest.mark.parametrize("hours", [3.0, 8.0, 20.0, 40.0, 60.0])
def test_a_healthy_curve_is_nothing_to_tell(hours: float) -> None:
    assert trouble(GREEN_G, curve(hours), ()) is None


def test_a_piece_that_stands_still_is_told() -> None:
    assert trouble(GREEN_G, curve(40.0, slow_from_h=20.0, slow=0.0), ()) == "stalled"


def test_a_piece_whose_pace_falls_to_a_quarter_is_told_as_a_crust() -> None:
    assert trouble(GREEN_G, curve(24.0, slow_from_h=14.0, slow=0.25), ()) == "crust-risk"


def test_a_cooler_step_is_no_slowing_down_when_it_is_known() -> None:
    airs = [AirAt(t_s=k * 300.0, air_c=80.0 if k < 240 else 45.0, rh_pct=12.0 if k < 240 else 45.0) for k in range(480)]
    rows = curve(40.0, airs=airs)
    assert trouble(GREEN_G, rows, ()) is not None  # the test would be none if it did not matter
    assert trouble(GREEN_G, rows, airs) is None


def test_a_piece_that_is_nearly_dry_has_no_wet_core() -> None:
    rows = [(t, g) for t, g in curve(300.0)]
    assert rows[-1][1] < GREEN_G * (1.0 - 0.6 * WATER)
    assert trouble(GREEN_G, [*rows, (rows[-1][0] + 50 * H, rows[-1][1])], ()) is None


@given(st.integers(0, 30), st.integers(0, 3))
def test_too_few_weighings_tell_nothing(start: int, count: int) -> None:
    assert trouble(GREEN_G, curve(30.0)[start : start + count], ()) is None


@given(st.permutations(curve(12.0, slow_from_h=5.0, slow=0.1)))
def test_the_order_of_weighings_does_not_matter(rows: list[tuple[float, float]]) -> None:
    assert trouble(GREEN_G, rows, ()) == trouble(GREEN_G, sorted(rows), ())


@pytest.mark.parametrize("hours", [3.0, 5.0, 8.0])
def test_a_few_grams_less_than_expected_are_noise(hours: float) -> None:
    assert trouble(GREEN_G, curve(hours, slow_from_h=hours - 0.5, slow=0.0), ()) is None


def test_a_piece_that_slows_down_when_it_is_nearly_dry_is_left_alone() -> None:
    rows = curve(200.0, slow_from_h=120.0, slow=0.1)
    assert rows[-1][1] < GREEN_G * (1.0 - 0.6 * WATER)
    assert trouble(GREEN_G, rows, ()) is None
