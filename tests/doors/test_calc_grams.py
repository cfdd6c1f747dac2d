"""Weights as people type them."""

from __future__ import annotations

import click
import pytest

from dryward.doors.calc.grams import Grams


@pytest.mark.parametrize(
    ("text", "grams"), [("25", 25.0), ("2.5", 2.5), ("2,5", 2.5), ("25 g", 25.0), ("25g/kg", 25.0), ("1e3", 1000.0)]
)
def test_grams_are_understood(text: str, grams: float) -> None:
    assert Grams().convert(text, None, None) == grams


@pytest.mark.parametrize("text", ["2 tbsp", "1 teaspoon", "3 tablespoons", "half a cup", "2 Spoonfuls", "a pinch"])
def test_spoons_are_refused_with_the_reason(text: str) -> None:
    """A spoon of coarse salt and one of fine differ by half and more: common practice, no source."""
    with pytest.raises(click.BadParameter, match="coarse salt and one of fine differ"):
        Grams().convert(text, None, None)


@pytest.mark.parametrize("text", ["", "much", "1.2.3", "2 kg", "4 oz"])
def test_anything_else_is_no_number_of_grams(text: str) -> None:
    with pytest.raises(click.BadParameter, match="no number of grams"):
        Grams().convert(text, None, None)
