"""Humidity conditions of FSIS-GD-2021-14 (as transcribed)."""

from __future__ import annotations

import pytest

from dryward.science.air import wet_bulb_c
from dryward.science.humidity import condition_met, is_moist

HOUR = 3600.0


@pytest.mark.parametrize(
    ("rh_pct", "moist"), [(90.0, True), (100.0, True), (89.9, False), (10.0, False), (None, False)]
)
def test_moist_air_holds_90_per_cent(rh_pct: float | None, moist: bool) -> None:
    assert is_moist(rh_pct) is moist


@pytest.mark.parametrize(
    ("times_h", "met"),
    [
        ({"cook_s": 2, "steam_s": 1}, "steam"),
        ({"cook_s": 4, "steam_s": 1}, ""),
        ({"cook_s": 4, "steam_s": 2}, "steam"),
        ({"cook_s": 3, "sealed_s": 1.5}, "sealed"),
        ({"cook_s": 3, "sealed_s": 1.4}, ""),
        ({"cook_s": 4, "moist_s": 1}, "quarter"),
        ({"cook_s": 8, "moist_s": 1}, ""),
        ({"cook_s": 8, "moist_s": 2}, "quarter"),
        ({"cook_s": 0.5, "moist_s": 0.5}, "throughout"),
        ({"cook_s": 0.5, "moist_s": 0.4}, ""),
        ({"cook_s": 78}, ""),
    ],
)
def test_each_condition_of_the_guideline(times_h: dict[str, float], met: str) -> None:
    """Half the time or 1 h, a quarter or 1 h whichever is longer, or throughout; half is read the careful way too."""
    said = condition_met(**{key: hours * HOUR for key, hours in times_h.items()})
    assert met in said
    assert bool(said) is bool(met)


def test_a_wet_bulb_of_52_degc_alone_is_no_condition() -> None:
    """Air of 80 degC with a wet bulb of 52-54 degC (125-130 degF) holds far less than 90 %RH."""
    assert 52.0 < wet_bulb_c(air_c=80.0, rh_pct=26.5) < 54.4
    assert not is_moist(26.5)
