"""The cold rest."""

from __future__ import annotations

import pytest

from dryward.science.cold_rest import COMMON, cold_rest
from dryward.science.figures import BadFigures


def test_a_rest_of_four_days_is_turned_three_times() -> None:
    """3-4 days: common practice, no source."""
    plan = cold_rest(days=4.0, air_c=3.0)
    assert plan.turn_at_h == (24.0, 48.0, 72.0)
    assert not plan.too_warm
    assert "common practice, no source" in COMMON[0]


def test_above_4_4_degc_is_too_warm() -> None:
    """USDA: cold rest and storage at or below 40 degF."""
    assert not cold_rest(days=3.0, air_c=4.4).too_warm
    assert cold_rest(days=3.0, air_c=4.5).too_warm


def test_a_fridge_in_fahrenheit_is_named() -> None:
    with pytest.raises(BadFigures, match=r"degF, it is 3.3 degC"):
        cold_rest(days=3.0, air_c=38.0)
