"""``calc cure`` as typed."""

from __future__ import annotations

import json
from typing import Any

import pytest
from click.testing import CliRunner

from dryward.doors.calc import calc


def answered(*arguments: str) -> dict[str, Any]:
    result = CliRunner().invoke(calc, ["cure", *arguments, "--json"])
    assert result.exit_code == 0, result.output
    values: dict[str, Any] = json.loads(result.output)
    return values


def test_dry_example() -> None:
    """5 lb of cure at 0.40 % on 100 lb: 200 ppm (secondary source, recomputed), which equals the limit for home curing (21 CFR 172.170)."""
    values = answered("--method", "dry", "--nitrite-pct", "0.40", "--cure-g", "2268", "--green-g", "45360")
    assert values["nitrite_ppm"] == pytest.approx(200.0)
    assert values["limit_ppm"] == 200.0
    assert values["within_limit"] is True
    assert "21 CFR 172.170" in values["source"]
    assert values["country"] == "United States"


def test_pumped_example_is_above_the_limit_for_bacon() -> None:
    """162.27 ppm (secondary source, recomputed); 120 ppm for pumped bacon, 9 CFR 424.21(c)."""
    values = answered(
        "--method", "pumped", "--nitrite-pct", "0.75", "--cure-g", "50", "--pickle-g", "462.1875", "--pump-pct", "20"
    )
    assert values["nitrite_ppm"] == pytest.approx(162.27, abs=0.005)
    assert values["limit_ppm"] == 120.0
    assert values["within_limit"] is False


def test_immersion_with_nitrate() -> None:
    values = answered(
        "--method", "immersion", "--blend", "type-2", "--cure-g", "32", "--pickle-g", "5000", "--green-g", "5000"
    )
    assert values["nitrite_ppm"] == pytest.approx(200.0)
    assert values["nitrate_ppm"] == pytest.approx(128.0)
    assert values["nitrate_limit_ppm"] == 500.0


def test_a_limit_is_chosen_by_name_or_given_with_its_source() -> None:
    dose = ["--method", "dry", "--blend", "type-1", "--cure-g", "2.5", "--green-g", "1000"]
    assert answered(*dose, "--limit", "us-chopped")["limit_ppm"] == 156.25
    own = answered(*dose, "--limit-ppm", "100", "--limit-source", "an invented rule of an invented country")
    assert own["within_limit"] is False
    assert own["source"] == "an invented rule of an invented country"


def test_above_the_limit_is_warned_of_in_text() -> None:
    output = (
        CliRunner()
        .invoke(calc, ["cure", "--method", "dry", "--blend", "type-1", "--cure-g", "25", "--green-g", "1000"])
        .output
    )
    assert "ABOVE THE LIMIT" in output
    assert "at most 3.2 g" in output


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--method", "dry", "--cure-g", "2.5", "--green-g", "1000"], "either --blend or --nitrite-pct"),
        (
            ["--method", "dry", "--blend", "type-1", "--nitrite-pct", "6.25", "--cure-g", "2.5", "--green-g", "1000"],
            "either --blend or --nitrite-pct",
        ),
        (["--method", "dry", "--blend", "type-1", "--cure-g", "2.5"], "needs --green-g"),
        (["--method", "pumped", "--blend", "type-1", "--cure-g", "2.5", "--pickle-g", "1000"], "needs --pump-pct"),
        (["--method", "dry", "--blend", "type-1", "--cure-g", "2.5", "--green-g", "1"], "write 1000"),
        (["--method", "dry", "--nitrite-pct", "0.0625", "--cure-g", "2.5", "--green-g", "1000"], "write 6.25"),
        (["--method", "dry", "--blend", "type-1", "--cure-g", "1 tsp", "--green-g", "1000"], "no weight"),
        (
            ["--method", "dry", "--blend", "type-1", "--cure-g", "2.5", "--green-g", "1000", "--limit-ppm", "100"],
            "needs --limit-source",
        ),
        (
            ["--method", "dry", "--blend", "type-1", "--cure-g", "2.5", "--green-g", "1000", "--limit-source", "x"],
            "belong to --limit-ppm",
        ),
    ],
)
def test_used_wrongly_says_what_is_missing_or_mixed_up(arguments: list[str], said: str) -> None:
    result = CliRunner().invoke(calc, ["cure", *arguments])
    assert result.exit_code == 2
    assert said in result.output


DOSE = ["--blend", "type-1", "--cure-g", "4", "--green-g", "1000"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--method", "dry", *DOSE, "--nitrate-pct", "4"], "goes with --nitrite-pct"),
        (["--method", "dry", *DOSE, "--limit", "us-bacon-pumped"], "Listed for it: us-dry, us-chopped"),
        (["--method", "dry", *DOSE, "--limit-ppm", "nan", "--limit-source", "x"], "no number to reckon with"),
        (["--method", "immersion", *DOSE, "--pickle-g", "5000", "--limit", "us-dry"], "not for the immersion method"),
    ],
)
def test_nothing_typed_is_passed_over(words: list[str], said: str) -> None:
    """Nitrate beside a blend would go uncounted, and a limit made for rubbing on would let a pickle pass."""
    result = CliRunner().invoke(calc, ["cure", *words])
    assert result.exit_code == 2, result.output
    assert said in result.output
