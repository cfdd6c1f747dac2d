"""Moist air against CoolProp, the ASHRAE handbook's example and limits where formulas break down."""

from __future__ import annotations

import csv
import math
from dataclasses import astuple
from pathlib import Path

import pytest
from CoolProp.HumidAirProp import HAPropsSI
from hypothesis import given
from hypothesis import strategies as st

from dryward.science.air import (
    dew_point_c,
    evaporation_g_per_m2_h,
    latent_heat_kj_per_kg,
    moist_air,
    saturation_pa,
    wet_bulb_c,
)
from dryward.science.figures import BadFigures

GRID = Path(__file__).parents[1] / "data" / "psychrometric_grid.csv"


def test_171_states_agree_with_coolprop() -> None:
    """Grid computed with CoolProp 8.0.0 HAPropsSI at 101325 Pa. Around 0 degC wet bulb (ice or water) the two differ by definition."""
    with GRID.open(encoding="utf-8") as file:
        rows = [{key: float(value) for key, value in row.items()} for row in csv.DictReader(file)]
    assert len(rows) == 171
    for row in rows:
        state = moist_air(dry_bulb_c=row["T_C"], rh_pct=row["RH_pct"], pressure_pa=row["P_Pa"])
        assert state.dew_point_c == pytest.approx(row["Tdp_C"], abs=0.06), row
        if abs(row["Twb_C"]) > 0.5:
            assert state.wet_bulb_c == pytest.approx(row["Twb_C"], abs=0.05), row
        assert state.humidity_ratio_kg_per_kg == pytest.approx(row["W_kg_per_kg"], rel=0.013), row
        assert state.enthalpy_kj_per_kg == pytest.approx(row["h_J_per_kg_da"] / 1000.0, rel=0.013), row
        assert state.specific_volume_m3_per_kg == pytest.approx(row["v_m3_per_kg_da"], rel=0.0006), row
        assert state.vapour_pressure_pa == pytest.approx(row["pw_Pa"], rel=0.013), row


@pytest.mark.parametrize("pressure_pa", [70_000.0, 85_000.0])
@pytest.mark.parametrize(("air_c", "rh_pct"), [(80.0, 10.0), (65.0, 20.0), (13.0, 80.0)])
def test_thin_air_of_high_places_agrees_with_coolprop(air_c: float, rh_pct: float, pressure_pa: float) -> None:
    given_air = ("T", air_c + 273.15, "R", rh_pct / 100.0, "P", pressure_pa)
    state = moist_air(dry_bulb_c=air_c, rh_pct=rh_pct, pressure_pa=pressure_pa)
    assert state.wet_bulb_c == pytest.approx(HAPropsSI("B", *given_air) - 273.15, abs=0.06)
    assert state.humidity_ratio_kg_per_kg == pytest.approx(HAPropsSI("W", *given_air), rel=0.013)


def test_air_hotter_than_boiling_water_agrees_with_coolprop() -> None:
    """The library's own wet-bulb search goes astray here: it tries wet bulbs above the boiling point."""
    given_air = ("T", 130.0 + 273.15, "R", 0.25, "P", 101_325.0)
    assert wet_bulb_c(air_c=130.0, rh_pct=25.0) == pytest.approx(HAPropsSI("B", *given_air) - 273.15, abs=0.3)


def test_the_ashrae_example() -> None:
    """ASHRAE 2017 Fundamentals ch. 1 (as carried in psychrolib's tests): 40 degC dry bulb, 20 degC wet bulb."""
    low, high = 0.0, 100.0
    while high - low > 1e-9:
        low, high = (
            ((low + high) / 2.0, high)
            if wet_bulb_c(air_c=40.0, rh_pct=(low + high) / 2.0) < 20.0
            else (low, (low + high) / 2.0)
        )
    state = moist_air(dry_bulb_c=40.0, rh_pct=low)
    assert low == pytest.approx(14.0, abs=0.5)
    assert state.humidity_ratio_kg_per_kg == pytest.approx(0.0065, abs=0.0001)
    assert state.dew_point_c == pytest.approx(7.0, abs=0.5)
    assert state.enthalpy_kj_per_kg == pytest.approx(56.7, abs=0.1)
    assert state.specific_volume_m3_per_kg == pytest.approx(0.896, abs=0.001)


@pytest.mark.parametrize(
    ("air_c", "rh_pct", "wet_c", "g_per_m2_h"),
    [(80.0, 10.0, 39.79, 1504.0), (80.0, 20.0, 48.46, 1190.0), (65.0, 20.0, 38.25, 999.0), (13.0, 80.0, 11.11, 69.0)],
)
def test_wet_bulb_and_drying_potential(air_c: float, rh_pct: float, wet_c: float, g_per_m2_h: float) -> None:
    """Computed with CoolProp by the heat route; its mass route agrees within 0.1 %."""
    assert wet_bulb_c(air_c=air_c, rh_pct=rh_pct) == pytest.approx(wet_c, abs=0.05)
    assert evaporation_g_per_m2_h(air_c=air_c, rh_pct=rh_pct) == pytest.approx(g_per_m2_h, rel=0.01)


@pytest.mark.parametrize(("water_c", "kj_per_kg"), [(10.0, 2477.19), (40.0, 2405.98), (60.0, 2357.66), (80.0, 2308.00)])
def test_latent_heat(water_c: float, kj_per_kg: float) -> None:
    """IAPWS-95 by CoolProp."""
    assert latent_heat_kj_per_kg(water_c) == pytest.approx(kj_per_kg, rel=0.003)


def test_what_a_sensor_error_does_to_the_dew_point() -> None:
    """Computed with CoolProp: at 65 degC and 10 %RH, 2 %RH more is 3.0 K of dew point; at 13 degC and 80 %RH, 0.5 K more is 0.49 K."""
    assert dew_point_c(air_c=65.0, rh_pct=12.0) - dew_point_c(air_c=65.0, rh_pct=10.0) == pytest.approx(3.0, abs=0.1)
    assert dew_point_c(air_c=13.5, rh_pct=80.0) - dew_point_c(air_c=13.0, rh_pct=80.0) == pytest.approx(0.49, abs=0.02)


@given(st.floats(-40.0, 150.0), st.floats(0.0, 100.0), st.floats(50_000.0, 110_000.0))
def test_every_state_is_finite_and_in_order_or_refused(air_c: float, rh_pct: float, pressure_pa: float) -> None:
    if rh_pct / 100.0 * saturation_pa(air_c) > 0.99 * pressure_pa:
        with pytest.raises(BadFigures, match="steam"):
            moist_air(dry_bulb_c=air_c, rh_pct=rh_pct, pressure_pa=pressure_pa)
        return
    state = moist_air(dry_bulb_c=air_c, rh_pct=rh_pct, pressure_pa=pressure_pa)
    assert all(math.isfinite(value) for value in astuple(state))
    assert state.dew_point_c <= state.wet_bulb_c + 0.01 <= air_c + 0.02
    assert state.vapour_pressure_deficit_pa >= -0.01


@given(st.floats(5.0, 120.0), st.floats(0.0, 100.0), st.floats(0.0, 100.0))
def test_wet_bulb_rises_with_humidity(air_c: float, one: float, other: float) -> None:
    dry, moist = sorted((one, other))
    assert wet_bulb_c(air_c=air_c, rh_pct=dry) <= wet_bulb_c(air_c=air_c, rh_pct=moist) + 2e-3


def test_mix_ups_are_named_together() -> None:
    with pytest.raises(BadFigures) as caught:
        moist_air(dry_bulb_c=176.0, rh_pct=120.0, pressure_pa=1013.25)
    said = str(caught.value)
    assert "80.0 degC" in said
    assert "write 101325" in said
    assert len(caught.value.mistakes) == 3
