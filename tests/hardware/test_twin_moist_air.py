"""The twin's moist air against psychrolib (ASHRAE equations) and the CoolProp grid of tests/data."""

from __future__ import annotations

import csv
from pathlib import Path

import psychrolib
import pytest

from dryward_hardware.twin import moist_air

psychrolib.SetUnitSystem(psychrolib.SI)
GRID = Path(__file__).parent.parent / "data" / "psychrometric_grid.csv"


@pytest.mark.parametrize("air_c", [-20.0, -5.0, 0.5, 13.0, 40.0, 65.0, 80.0, 99.0])
def test_saturation_pressure_is_that_of_psychrolib(air_c: float) -> None:
    assert moist_air.saturation_pa(air_c) == pytest.approx(psychrolib.GetSatVapPres(air_c), rel=1e-6)


def test_humidity_ratio_follows_coolprop_within_what_ideal_gas_can() -> None:
    """Source: CoolProp 8.0.0; ideal-gas equations are up to 1.3 % off (seen for psychrolib on the same grid)."""
    with GRID.open() as stream:
        for row in csv.DictReader(stream):
            air_c, rh = float(row["T_C"]), float(row["RH_pct"]) / 100.0
            vapour = rh * moist_air.saturation_pa(air_c)
            if vapour > 0.85 * moist_air.PRESSURE_PA:
                continue
            assert moist_air.humidity_ratio(vapour) == pytest.approx(float(row["W_kg_per_kg"]), rel=0.013)


def test_humidity_ratio_and_vapour_pressure_are_each_others_inverse() -> None:
    for vapour in (100.0, 2_000.0, 47_000.0):
        assert moist_air.vapour_pa(moist_air.humidity_ratio(vapour)) == pytest.approx(vapour)
    assert moist_air.humidity_ratio(200_000.0) == moist_air.humidity_ratio(0.9 * moist_air.PRESSURE_PA)


@pytest.mark.parametrize(
    ("surface_c", "kj_per_kg"), [(10.0, 2477.19), (40.0, 2405.98), (60.0, 2357.66), (80.0, 2308.00)]
)
def test_latent_heat_is_that_of_the_steam_tables(surface_c: float, kj_per_kg: float) -> None:
    """Source: IAPWS-95; the straight line used here is within 0.4 %."""
    assert moist_air.latent_j_per_kg(surface_c) == pytest.approx(1000.0 * kj_per_kg, rel=0.004)


def test_vapour_at_a_surface_holds_latent_heat_and_the_waters_own() -> None:
    at = 37.0
    assert moist_air.vapour_j_per_kg(at) == pytest.approx(
        moist_air.latent_j_per_kg(at) + moist_air.WATER_J_PER_KGK * at
    )
    assert moist_air.saturated_ratio(at) == pytest.approx(
        psychrolib.GetSatHumRatio(at, moist_air.PRESSURE_PA), rel=1e-3
    )
