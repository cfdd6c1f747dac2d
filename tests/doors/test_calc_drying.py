"""``calc drying`` as typed."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner

from dryward.doors.calc import calc

COMMON = ["drying", "--green-g", "1000", "--water-pct", "70", "--salt-pct", "2.5", "--loss-pct", "35"]


def test_json_of_the_common_case() -> None:
    """350 g of water and salt are left, water activity about 0.95 (computed)."""
    values = json.loads(CliRunner().invoke(calc, [*COMMON, "--json"]).output)
    assert values["water_g"] == pytest.approx(325.0)
    assert values["water_phase_salt_pct"] == pytest.approx(100.0 * 25.0 / 350.0)
    assert values["water_activity"] == pytest.approx(0.955, abs=0.005)
    assert values["water_activity_lo"] <= values["water_activity"] <= values["water_activity_hi"]
    assert values["basis"] == "estimate"
    assert {line["source"] for line in values["lines"]} == {"USDA FSIS", "21 CFR 114.3", "FDA and USDA ARS guides"}


def test_text_says_estimate_cold_and_who_decides() -> None:
    output = CliRunner().invoke(calc, COMMON).output
    assert "estimate" in output
    assert "above 0.85: it is not shelf stable" in output
    assert "at or below 4.4 degC" in output
    assert "laboratory" in output


def test_the_cut_gives_water_and_protein() -> None:
    """USDA SR26: beef eye of round lean, 73.43 % water, 23.37 % protein."""
    values = json.loads(
        CliRunner()
        .invoke(
            calc,
            ["drying", "--green-g", "1000", "--cut", "eye of round", "--salt-pct", "0", "--loss-pct", "35", "--json"],
        )
        .output
    )
    assert values["moisture_pct"] == pytest.approx(59.12, abs=0.005)
    assert values["moisture_protein"] == pytest.approx((73.43 - 35.0) / 23.37)


def test_a_ph_is_held_against_the_food_code_with_the_upper_end() -> None:
    """FDA Food Code, Table B: above 0.92 needs no cold only to pH 4.2."""
    runner = CliRunner()
    assert json.loads(runner.invoke(calc, [*COMMON, "--ph", "5.6", "--json"]).output)["food_code_non_tcs"] is False
    assert json.loads(runner.invoke(calc, [*COMMON, "--ph", "4.1", "--json"]).output)["food_code_non_tcs"] is True
    assert "Table A" in runner.invoke(calc, [*COMMON, "--ph", "4.1", "--heat-treated-and-packaged"]).output


def test_fractions_are_named_together() -> None:
    result = CliRunner().invoke(
        calc, ["drying", "--green-g", "1000", "--water-pct", "70", "--salt-pct", "0.025", "--loss-pct", "0.35"]
    )
    assert result.exit_code == 2
    assert "write 2.5" in result.output
    assert "write 35" in result.output


def test_an_impossible_loss_is_used_wrongly() -> None:
    result = CliRunner().invoke(
        calc, ["drying", "--green-g", "1000", "--water-pct", "70", "--salt-pct", "2.5", "--loss-pct", "80"]
    )
    assert result.exit_code == 2
    assert "less than 67.5 %" in result.output


def test_a_table_of_the_food_code_needs_the_ph() -> None:
    result = CliRunner().invoke(calc, [*COMMON, "--heat-treated-and-packaged"])
    assert result.exit_code == 2, result.output
    assert "needs --ph" in result.output
