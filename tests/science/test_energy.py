"""Energy per water removed, the least it takes, and the life of a relay."""

from __future__ import annotations

import pytest

from dryward.science.energy import kwh_per_kg, least_kwh_per_kg, years_left


@pytest.mark.parametrize(("water_c", "kj"), [(10.0, 2477.19), (40.0, 2405.98), (60.0, 2357.66), (80.0, 2308.00)])
def test_the_least_is_the_latent_heat(water_c: float, kj: float) -> None:
    """IAPWS-95, computed with CoolProp 8.0.0."""
    assert least_kwh_per_kg(water_c) == pytest.approx(kj / 3600.0, rel=0.004)


def test_energy_per_kilogram_waits_until_water_is_gone() -> None:
    assert kwh_per_kg(38.4, 1084.0) == pytest.approx(35.4, abs=0.05)
    assert kwh_per_kg(0.5, 4.0) is None


def test_a_relay_lasts_what_is_left_at_this_pace() -> None:
    """100,000 rated, 27,000 used, 2000 a day: 36.5 days."""
    assert years_left(rated=100_000, used=27_000, per_day=2000.0) == pytest.approx(0.1, abs=0.001)
    assert years_left(rated=1000, used=2000, per_day=10.0) == 0.0
    assert years_left(rated=0, used=5, per_day=10.0) is None
    assert years_left(rated=1000, used=5, per_day=0.0) is None
