"""Many shapes and floors side by side, weighed by what the weighings say."""

from __future__ import annotations

import math

import pytest

from dryward.science.beliefs import advised, by_cell, cells, explore, log_sum, shares
from dryward.science.pace import MIDDLE
from dryward.science.track import Point

# A Lewis curve to a floor at 55 % of the green weight, weighed every hour.
POINTS = [Point(0.55 + 0.45 * math.exp(-0.1 * hour), 1.0) for hour in range(40)]
GAINS = {MIDDLE: [3600.0] * 39}


def test_the_trusts_of_all_cells_add_up_to_one() -> None:
    assert math.fsum(cell.trust for cell in cells()) == pytest.approx(1.0)
    assert any(cell.depth >= 1.0 for cell in cells())


def test_a_target_beyond_the_floor_is_mostly_believed_out_of_reach_and_one_well_above_it_is_not() -> None:
    def beyond(target: float) -> float:
        found = explore(POINTS, GAINS, target=target, resolution=1e-5, pace=None)
        return sum(share for one, share in zip(found, shares(found), strict=True) if cells()[one.cell].depth >= 1.0)

    assert beyond(0.45) > 0.5
    assert beyond(0.65) < 0.05


def test_shares_add_up_to_one_and_neighbours_only_lean() -> None:
    found = explore(POINTS, GAINS, target=0.65, resolution=1e-5, pace=None)
    assert math.fsum(shares(found)) == pytest.approx(1.0)
    assert math.fsum(by_cell(found)) == pytest.approx(1.0)
    assert advised(found, []) == found
    leaned = advised(found, [by_cell(found)])
    assert math.fsum(shares(leaned)) == pytest.approx(1.0)
    best = max(range(len(found)), key=lambda i: shares(found)[i])
    assert shares(leaned)[best] >= 0.5 * shares(found)[best]


def test_a_sum_of_tiny_shares_does_not_vanish() -> None:
    assert log_sum([-1000.0, -1000.0]) == pytest.approx(-1000.0 + math.log(2.0))
