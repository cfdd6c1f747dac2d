"""``calc seasoning`` as typed; the batch is invented."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from dryward.doors.calc import calc

BATCH = [
    "seasoning",
    "--piece",
    "loin-1=1000",
    "--piece",
    "loin-2=764",
    "--salt",
    "25",
    "--cure",
    "2.5",
    "--blend",
    "type-1",
    "--spice",
    "pepper=4",
]


def test_json_carries_grams_errors_and_totals() -> None:
    """25 g/kg of 764 g is 19.1 g, 19 g on a scale of 1 g; 2.5 g/kg of type 1 is 156.25 ppm (computed)."""
    values = json.loads(CliRunner().invoke(calc, [*BATCH, "--json"]).output)
    first, second = values["pieces"]
    assert [dose["grams"] for dose in first["doses"]] == [25.0, 2.5, 4.0]
    assert first["ingoing"]["nitrite_ppm"] == pytest.approx(156.25)
    assert second["doses"][0]["grams"] == 19.0
    assert second["doses"][0]["error_pct"] == pytest.approx(-0.524, abs=0.001)
    assert values["totals"][0]["grams"] == 44.0


def test_text_is_a_sheet_to_weigh_by_with_nitrite_and_rest() -> None:
    output = CliRunner().invoke(calc, [*BATCH, "--rest-days", "4", "--rest-c", "6"]).output
    assert "loin-1" in output
    assert "batch" in output
    assert "nitrite 156 ppm (limit 200, 21 CFR 172.170)" in output
    assert "turn after 24, 48, 72 h" in output
    assert "6 degC is too warm" in output
    assert "common practice, no source" in output


def test_too_much_cure_is_shouted_about() -> None:
    output = (
        CliRunner()
        .invoke(calc, ["seasoning", "--piece", "a=1000", "--salt", "25", "--cure", "5", "--blend", "type-1"])
        .output
    )
    assert "ABOVE THE LIMIT" in output


def test_a_batch_file_serves_too(tmp_path: Path) -> None:
    batch = tmp_path / "batch.toml"
    batch.write_text('[[pieces]]\nname = "loin-1"\ngreen_g = 812.0\n', encoding="utf-8")
    result = CliRunner().invoke(calc, ["seasoning", "--pieces", str(batch), "--salt", "25", "--json"])
    assert json.loads(result.output)["pieces"][0]["doses"][0]["grams"] == 20.0


def test_a_bad_batch_file_is_refused_with_its_mistakes(tmp_path: Path) -> None:
    batch = tmp_path / "batch.toml"
    batch.write_text('[[pieces]]\nname = "loin-1"\ngreen_g = "much"\n', encoding="utf-8")
    result = CliRunner().invoke(calc, ["seasoning", "--pieces", str(batch), "--salt", "25"])
    assert result.exit_code == 1
    assert "green_g" in result.output


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--piece", "a=800", "--salt", "2 tbsp"], "no weight"),
        (["--piece", "a=0.8", "--salt", "25"], "write 800"),
        (["--piece", "a=800", "--salt", "2.5"], "write 25 g/kg"),
        (["--piece", "800", "--salt", "25"], "not NAME=GRAMS"),
        (["--salt", "25"], "no piece"),
        (["--piece", "a=800", "--salt", "25", "--cure", "2.5"], "belong together"),
    ],
)
def test_used_wrongly_says_how(arguments: list[str], said: str) -> None:
    result = CliRunner().invoke(calc, ["seasoning", *arguments])
    assert result.exit_code == 2
    assert said in result.output


def test_too_much_nitrite_is_among_the_warnings_of_json_too() -> None:
    """3.3 g/kg of 6.25 % is above the 200 ppm of 21 CFR 172.170."""
    words = ["seasoning", "--piece", "a=800", "--salt", "25", "--cure", "3.3", "--blend", "type-2"]
    (warning,) = json.loads(CliRunner().invoke(calc, [*words, "--json"]).output)["warnings"]
    assert "ABOVE THE LIMIT" in warning
    assert CliRunner().invoke(calc, words).output.count("ABOVE THE LIMIT") == 1


def test_a_dose_that_rounding_took_over_the_limit_says_by_how_much_and_what_keeps_to_it() -> None:
    """3.2 g/kg of 6.25 % are 200 ppm (21 CFR 172.170); 2.5984 g rounded up to 2.6 are 200.1, and 2.59 keep to it."""
    words = ["seasoning", "--piece", "a=812", "--salt", "25", "--cure", "3.2", "--blend", "type-1"]
    output = CliRunner().invoke(calc, words).output
    assert "nitrite 200.1 ppm (limit 200" in output
    assert "do not use it, at most 2.59 g of curing salt keeps to it" in output
