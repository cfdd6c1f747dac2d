"""Many shapes and floors side by side, weighed by what the weighings say."""

from __future__ import annotations

import math

import pytest

from dryward.science.beliefs import (
    advised,
    by_cell,
    cells,
    edges,
    explore,
    led,
    log_sum,
    retrace,
    shares,
    watered,
)
from dryward.science.neighbours import shown
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
        return sum(share for one, share in zip(found, shares(found), strict=True) if one.cell.depth >= 1.0)

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


def test_a_small_loss_leads_to_a_floor_where_meat_ends_but_any_floor_stays_possible() -> None:
    """Lean meat holds 0.7-0.74 of water (USDA SR 26): a target of 15 % is then a fifth of what it can lose."""
    assert watered(0.15, 0.15) > 2.0 * watered(0.95, 0.15)
    assert watered(0.95, 0.15) > 0.1
    assert watered(1.3, 0.15) == 1.0
    for loss in (0.05, 0.15, 0.3, 0.5, 0.7):
        spread = math.fsum(watered(depth, loss) * (high - low) for depth, (low, high) in edges().items())
        assert spread == pytest.approx(0.95, abs=0.02)


def test_only_neighbours_that_have_been_there_lead() -> None:
    shape = cells()[0].shape
    assert led([(shape, 0.1)], 0.65) == []
    assert led([(shape, 0.25)], 0.65) == []
    ways = led([(shape, 0.5), (shape, 0.1)], 0.65)
    assert ways
    assert all(way.depth < 1.0 for way in ways)
    assert math.fsum(way.trust for way in ways) <= 1.0


def test_a_neighbours_own_curve_is_believed_when_it_fits() -> None:
    """A curve no shape has: straight, then a sharp bend. The neighbour made it at twice the pace."""

    def bent(hours: float) -> float:
        return 1.0 - 0.02 * min(hours, 12.0) - 0.002 * max(0.0, hours - 12.0)

    way = shown([3600.0 * h for h in range(30)], [bent(2.0 * h) for h in range(30)], 1e-5)
    assert way is not None
    points = [Point(bent(float(h)), 1.0) for h in range(15)]
    gains = {MIDDLE: [3600.0] * 14}
    alone = explore(points, gains, target=0.74, resolution=1e-5, pace=None)
    both = retrace(alone, points, gains, led([way], 0.74), target=0.74, pace=None)
    assert both[: len(alone)] == alone
    own = {id(one) for one in alone}
    assert math.fsum(share for one, share in zip(both, shares(both), strict=True) if id(one) not in own) > 0.5
