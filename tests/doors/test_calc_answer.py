"""How every ``calc`` command answers."""

from __future__ import annotations

import json
import math

import click
import pytest
from click.testing import CliRunner

from dryward.doors.calc import calc
from dryward.doors.calc.answer import answer, used_rightly
from dryward.science.figures import BadFigures


def test_one_or_the_other_is_printed(capsys: pytest.CaptureFixture[str]) -> None:
    answer({"a": 1.5}, ["one", "two"], as_json=False)
    assert capsys.readouterr().out == "one\ntwo\n"
    answer({"a": 1.5}, ["one", "two"], as_json=True)
    assert json.loads(capsys.readouterr().out) == {"a": 1.5}


def test_not_a_number_never_gets_into_json() -> None:
    with pytest.raises(ValueError, match="JSON"):
        answer({"a": math.nan}, [], as_json=True)


def test_bad_figures_become_a_usage_error() -> None:
    with pytest.raises(click.UsageError, match="first\n  second") as caught, used_rightly():
        raise BadFigures(["first", "second"])
    assert caught.value.exit_code == 2


def test_every_command_has_help_and_takes_json() -> None:
    runner = CliRunner()
    listed = runner.invoke(calc, ["--help"]).output
    for name in ("loss", "air", "brine", "cure", "drying", "lethality", "seasoning", "statement", "yield"):
        assert f"  {name} " in listed
        help_text = runner.invoke(calc, [name, "--help"])
        assert help_text.exit_code == 0
        assert "--json" in help_text.output


@pytest.mark.parametrize(
    "words",
    [
        ["air", "--dry-bulb-c", "13,5", "--rh-pct", "80"],
        ["loss", "--green-g", "905,5", "--loss-pct", "35"],
        ["cure", "--method", "dry", "--nitrite-pct", "6,25", "--cure-g", "2,5", "--green-g", "1000"],
    ],
)
def test_a_decimal_comma_is_understood_in_every_option_alike(words: list[str]) -> None:
    with_points = CliRunner().invoke(calc, [word.replace(",", ".") for word in words])
    with_commas = CliRunner().invoke(calc, words)
    assert with_commas.exit_code == 0, with_commas.output
    assert with_commas.output == with_points.output


def test_what_is_no_number_is_said_in_plain_words() -> None:
    result = CliRunner().invoke(calc, ["loss", "--green-g", "heavy", "--loss-pct", "35"])
    assert result.exit_code == 2
    assert "'heavy' is no number. Write it like 25 or 2.5." in result.output
