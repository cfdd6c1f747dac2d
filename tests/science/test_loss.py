"""Loss against the definition of the trade, and weighings that cannot be."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dryward.science.figures import BadFigures
from dryward.science.loss import loss_pct, target_g, weight_mistake

greens = st.floats(0.5, 50_000.0)


def test_thirty_five_per_cent_of_a_kilogram_is_done_at_650_g() -> None:
    """Definition: target = green x (1 - loss). 35 % itself is common practice, no source."""
    assert target_g(green_g=1000.0, loss_pct=35.0) == pytest.approx(650.0, abs=1e-9)


@pytest.mark.parametrize(
    ("loss", "left_g"),
    [
        (18.0, 820.0),  # US country ham, at least 18 % (9 CFR 319.106, secondary source)
        (33.0, 670.0),  # Jamon Serrano, at least 33 % (its specification)
    ],
)
def test_published_product_losses_leave_their_weights(loss: float, left_g: float) -> None:
    assert target_g(green_g=1000.0, loss_pct=loss) == pytest.approx(left_g, abs=1e-9)


@given(greens, st.floats(1.0, 90.0))
def test_a_piece_at_its_target_weight_has_lost_its_target(green_g: float, loss: float) -> None:
    assert loss_pct(green_g=green_g, weight_g=target_g(green_g=green_g, loss_pct=loss)) == pytest.approx(loss, abs=1e-9)


@given(greens, st.floats(0.11, 1.0), st.floats(0.11, 1.0))
def test_a_lighter_piece_has_lost_more(green_g: float, first: float, second: float) -> None:
    light, heavy = sorted((green_g * first, green_g * second))
    assert loss_pct(green_g=green_g, weight_g=light) >= loss_pct(green_g=green_g, weight_g=heavy)


def test_a_fraction_typed_as_per_cent_is_named() -> None:
    with pytest.raises(BadFigures, match=r"fraction, write 35"):
        target_g(green_g=1000.0, loss_pct=0.35)


def test_a_weight_in_kilograms_is_named() -> None:
    said = weight_mistake(green_g=1000.0, weight_g=0.72)
    assert said is not None
    assert "write 720" in said


@pytest.mark.parametrize("weight_g", [1021.0, -5.0, 0.0, 10_000.0, 72.0, float("nan")])
def test_a_weight_that_no_such_piece_can_have_is_refused(weight_g: float) -> None:
    with pytest.raises(BadFigures, match="weight is"):
        loss_pct(green_g=1000.0, weight_g=weight_g)


def test_all_mistakes_are_told_at_once() -> None:
    with pytest.raises(BadFigures) as caught:
        target_g(green_g=-1.0, loss_pct=120.0)
    assert len(caught.value.mistakes) == 2


def test_a_weight_read_off_the_scale_is_at_its_target_when_it_shows_it() -> None:
    """By plain arithmetic 34 % off 200 g leaves a hair less than 132 g, and the scale's 132 would be 0.0 g short of it."""
    for green in range(200, 1500, 7):
        for loss in range(20, 60):
            assert target_g(green_g=float(green), loss_pct=float(loss)) == float(f"{green * (100 - loss)}e-2")
