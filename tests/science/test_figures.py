"""Figures out of range, with the likely mix-up named."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dryward.science.figures import BadFigures, celsius_mix_up, fraction_mix_up, not_above_zero, outside, refuse


def test_a_figure_inside_its_range_is_no_mistake() -> None:
    assert outside("x", 5.0, "g", low=5.0, high=5.0) is None
    assert not_above_zero("x", 5.0, "g", high=5.0) is None


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, 11.0])
def test_not_a_number_and_infinity_are_outside_every_range(value: float) -> None:
    assert outside("x", value, "g", low=0.0, high=10.0)
    assert not_above_zero("x", value, "g", high=10.0)


def test_nothing_is_not_above_nothing() -> None:
    assert not_above_zero("x", 0.0, "g", high=10.0)


def test_all_mistakes_are_kept_and_told() -> None:
    with pytest.raises(BadFigures, match="first\n  second") as caught:
        refuse("first", None, "second", "")
    assert caught.value.mistakes == ("first", "second")


@given(st.floats(50.0, 105.0))
def test_a_hot_core_in_fahrenheit_is_named_with_its_celsius(core_c: float) -> None:
    """Definition: degC = (degF - 32) / 1.8. From 50 degC on, the figure in degF lies above what wet meat can be in degC."""
    said = celsius_mix_up(core_c * 1.8 + 32.0, high_c=105.0)
    assert f"{core_c:.1f} degC" in said


@given(st.floats(0.001, 0.9))
def test_a_fraction_is_named_with_its_per_cent(fraction: float) -> None:
    assert f"write {fraction * 100:g}" in fraction_mix_up(fraction, low_pct=1.0)


def test_a_figure_without_a_unit_leaves_no_hole() -> None:
    assert outside("pH", 9.0, "", low=3.0, high=8.0) == "pH is 9; it must lie between 3 and 8"
