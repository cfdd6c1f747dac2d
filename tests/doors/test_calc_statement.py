"""``calc statement`` as typed."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner

from dryward.doors.calc import calc

COMMON = [
    "statement",
    "--name",
    "loin-1",
    "--green-g",
    "1000",
    "--weight-g",
    "650",
    "--salt-pct",
    "2.5",
    "--cut",
    "pork loin",
]


def test_text_begins_with_not_shelf_stable_and_the_cold() -> None:
    lines = CliRunner().invoke(calc, COMMON).output.splitlines()
    assert lines[0].startswith("[estimate] It is not shelf stable")
    assert lines[1] == "[caution] Keep it at or below 4.4 degC, or freeze it."


def test_the_label_alone() -> None:
    output = (
        CliRunner()
        .invoke(calc, [*COMMON, "--label", "--run-id", "7", "--program", "two-step", "--dried-to", "2025-11-12"])
        .output
    )
    assert output.startswith(
        "loin-1, pork loin\n1000 g raw, 650 g dried, 35.0 % lost\nDried 2025-11-12\nRun 7, program two-step\n"
    )


def test_json_carries_both() -> None:
    values = json.loads(CliRunner().invoke(calc, [*COMMON, "--json"]).output)
    assert values["statements"][0]["basis"] == "estimate"
    assert values["label"][-1].startswith("Keep it")


def test_kilograms_and_fractions_are_named() -> None:
    runner = CliRunner()
    assert "write 650" in runner.invoke(calc, ["statement", "--green-g", "1000", "--weight-g", "0.65"]).output
    result = runner.invoke(calc, ["statement", "--green-g", "1000", "--weight-g", "650", "--salt-pct", "0.025"])
    assert result.exit_code == 2
    assert "write 2.5" in result.output


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--water-pct", "0.72"], "If that was a fraction, write 72"),
        (["--water-pct", "20"], "between 30 and 85 %"),
        (["--salt-pct", "60"], "between 0 and 15 %"),
    ],
)
def test_a_composition_that_cannot_be_is_refused_and_not_blamed_on_the_weight(options: list[str], said: str) -> None:
    result = CliRunner().invoke(calc, [*COMMON, *options])
    assert result.exit_code == 2, result.output
    assert said in result.output
