"""A piece knows its own target."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dryward.core.program import Piece, Program
from dryward.science.loss import target_g
from tests.core.bench_chamber import hot


@pytest.mark.parametrize(
    ("green_g", "loss_pct", "done_g"), [(1000.0, 35.0, 650.0), (905.0, 35.0, 588.25), (750.0, 40.0, 450.0)]
)
def test_a_piece_is_done_at_its_green_weight_less_its_share(green_g: float, loss_pct: float, done_g: float) -> None:
    """Arithmetic of the trade: 35 % of 1000 g is done at 650 g."""
    assert Piece(name="a", green_g=green_g, target_loss_pct=loss_pct).target_g == pytest.approx(done_g)


@given(st.floats(1.0, 50_000.0), st.floats(1.0, 90.0))
def test_it_is_the_same_as_the_calculation_of_calc_loss(green_g: float, loss_pct: float) -> None:
    piece = Piece(name="a", green_g=green_g, target_loss_pct=loss_pct)
    assert piece.target_g == target_g(green_g=green_g, loss_pct=loss_pct)


def test_a_program_ends_with_the_heat_off_unless_told_otherwise() -> None:
    assert Program(name="p", cap_h=10.0, steps=(hot(),)).at_end.action == "off"
