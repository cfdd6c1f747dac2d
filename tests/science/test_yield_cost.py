"""Yield and cost by hand."""

from __future__ import annotations

import pytest

from dryward.science.figures import BadFigures
from dryward.science.yield_cost import yield_and_cost


def test_a_batch_by_hand() -> None:
    """3 kg bought, 5 % trimmed, 35 % lost: 1852.5 g; 3 x 9 + 1.50 + 30 x 0.30 = 37.50."""
    made = yield_and_cost(
        bought_g=3000.0,
        trim_pct=5.0,
        loss_pct=35.0,
        price_per_kg=9.0,
        seasoning_cost=1.5,
        energy_kwh=30.0,
        price_per_kwh=0.30,
    )
    assert made.finished_g == pytest.approx(1852.5)
    assert made.yield_pct == pytest.approx(61.75)
    assert made.cost == pytest.approx(37.5)
    assert made.cost_per_finished_kg == pytest.approx(37.5 / 1.8525)


def test_a_loss_as_a_fraction_is_named() -> None:
    with pytest.raises(BadFigures, match="write 35"):
        yield_and_cost(bought_g=3000.0, loss_pct=0.35, price_per_kg=9.0)


def test_a_weight_in_kilograms_is_named() -> None:
    with pytest.raises(BadFigures, match="If that was kg, write 5000"):
        yield_and_cost(bought_g=5.0, loss_pct=35.0, price_per_kg=9.0)
