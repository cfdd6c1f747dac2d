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
