"""A batch's seasoning sheet."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dryward.science.cure import TYPE_1
from dryward.science.figures import BadFigures
from dryward.science.seasoning import Ingredient, seasoning_sheet

SALT = Ingredient(name="salt", g_per_kg=25.0, step_g=1.0, is_salt=True)
CURE = Ingredient(name="curing salt", g_per_kg=2.5, step_g=0.1, cure=TYPE_1)
PEPPER = Ingredient(name="pepper", g_per_kg=4.0, step_g=1.0)


def test_a_kilogram_by_hand() -> None:
    """2.5 g/kg of type 1 is 156.25 ppm (computed); its own salt counts: 25 + 2.5 x 0.9375 g."""
    sheet = seasoning_sheet([("loin-1", 1000.0)], [SALT, CURE, PEPPER])
    piece = sheet.pieces[0]
    assert [dose.grams for dose in piece.doses] == [25.0, 2.5, 4.0]
    assert piece.ingoing is not None
    assert piece.ingoing.nitrite_ppm == pytest.approx(156.25)
    assert piece.salt_pct == pytest.approx(2.734375)
    assert sheet.warnings == ()


def test_the_error_of_rounding_is_shown_and_a_coarse_one_warned_of() -> None:
    sheet = seasoning_sheet([("tip", 310.0)], [Ingredient(name="curing salt", g_per_kg=2.5, step_g=1.0, cure=TYPE_1)])
    dose = sheet.pieces[0].doses[0]
    assert (dose.exact_g, dose.grams) == (0.775, 1.0)
    assert dose.error_pct == pytest.approx(29.03, abs=0.01)
    assert "finer scale" in sheet.warnings[0]
    assert sheet.pieces[0].ingoing is not None
    assert sheet.pieces[0].ingoing.nitrite_ppm == pytest.approx(201.6, abs=0.1)  # of the rounded gram, not of the wish


@given(
    st.lists(st.floats(100.0, 5000.0), min_size=1, max_size=12),
    st.floats(5.0, 60.0),
    st.floats(0.5, 5.0),
    st.sampled_from([0.01, 0.1, 1.0, 2.0, 5.0]),
)
def test_grams_per_piece_sum_to_the_batch_within_rounding(
    greens: list[float], salt: float, cure: float, step_g: float
) -> None:
    pieces = [(f"p{place}", green_g) for place, green_g in enumerate(greens)]
    recipe = [
        Ingredient(name="salt", g_per_kg=salt, step_g=step_g, is_salt=True),
        Ingredient(name="cure", g_per_kg=cure, step_g=0.1, cure=TYPE_1),
    ]
    sheet = seasoning_sheet(pieces, recipe)
    for place, ingredient in enumerate(recipe):
        doses = [piece.doses[place] for piece in sheet.pieces]
        assert sheet.totals[place].grams == pytest.approx(sum(dose.grams for dose in doses), abs=1e-5)
        assert (
            abs(sheet.totals[place].grams - ingredient.g_per_kg * sum(greens) / 1000.0)
            <= len(greens) * ingredient.step_g / 2.0 + 1e-4
        )
        for dose in doses:
            steps = dose.grams / ingredient.step_g
            assert steps == pytest.approx(round(steps), abs=1e-4)
            assert abs(dose.grams - dose.exact_g) <= ingredient.step_g / 2.0 + 1e-5


def test_per_cent_and_kilograms_are_named_together() -> None:
    with pytest.raises(BadFigures) as caught:
        seasoning_sheet([("loin-1", 0.8)], [Ingredient(name="salt", g_per_kg=2.5, step_g=math.nan, is_salt=True)])
    said = str(caught.value)
    assert "write 800" in said
    assert "write 25 g/kg" in said
    assert len(caught.value.mistakes) == 3


def test_a_batch_without_a_piece_is_refused() -> None:
    with pytest.raises(BadFigures, match="no piece"):
        seasoning_sheet([], [SALT])


def test_a_piece_named_twice_is_refused() -> None:
    """Two rows of one name: nobody could tell whose salt is whose, and the batch would count it twice."""
    salt = Ingredient(name="salt", g_per_kg=25.0, step_g=1.0, is_salt=True)
    with pytest.raises(BadFigures, match="loin-1 is there 2 times"):
        seasoning_sheet([("loin-1", 800.0), ("loin-1", 700.0)], [salt])
