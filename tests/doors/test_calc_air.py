"""``calc air`` as typed."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner

from dryward.doors.calc import calc


def test_json_carries_the_seven_values_in_the_units_of_their_names() -> None:
    """CoolProp 8.0.0: 80 degC and 10 %RH has a wet bulb of 39.79 degC; saturation at 80 degC is 47.4 kPa."""
    values = json.loads(CliRunner().invoke(calc, ["air", "--dry-bulb-c", "80", "--rh-pct", "10", "--json"]).output)
    assert list(values) == [
        "dew_point_c", "wet_bulb_c", "humidity_ratio_kg_per_kg", "vapour_pressure_pa",
        "enthalpy_kj_per_kg", "specific_volume_m3_per_kg", "vapour_pressure_deficit_pa",
    ]  # fmt: skip
    assert values["wet_bulb_c"] == pytest.approx(39.79, abs=0.05)
    assert values["vapour_pressure_pa"] + values["vapour_pressure_deficit_pa"] == pytest.approx(47_400.0, rel=0.005)


def test_text_warns_that_wet_meat_is_cooler_than_the_air() -> None:
    result = CliRunner().invoke(calc, ["air", "--dry-bulb-c", "80", "--rh-pct", "10"])
    assert result.exit_code == 0
    assert "a wet piece is near this, not at 80 degC" in result.output


def test_bad_figures_are_used_wrongly_and_all_told() -> None:
    result = CliRunner().invoke(calc, ["air", "--dry-bulb-c", "176", "--rh-pct", "140"])
    assert result.exit_code == 2
    assert "80.0 degC" in result.output
    assert "relative humidity is 140" in result.output


def test_a_likely_fraction_is_answered_with_a_question() -> None:
    result = CliRunner().invoke(calc, ["air", "--dry-bulb-c", "40", "--rh-pct", "0.4"])
    assert result.exit_code == 0
    assert "write 40" in result.stderr
