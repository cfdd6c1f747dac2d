"""The command line as a whole."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from click import Context
from click.testing import CliRunner

from dryward.doors.cli import main

COMMANDS = main.list_commands(Context(main))


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_explains_itself(name: str) -> None:
    result = CliRunner().invoke(main, [name, "--help"])
    assert result.exit_code == 0
    assert len(result.output) > 60


def test_an_unknown_command_ends_with_two() -> None:
    assert CliRunner().invoke(main, ["roast"]).exit_code == 2


def test_help_costs_no_heavy_import() -> None:
    script = (
        "import sys\nfrom click.testing import CliRunner\nfrom dryward.doors.cli import main\n"
        "CliRunner().invoke(main, ['--help'])\n"
        "print(sorted({'pydantic', 'sqlite_utils', 'apscheduler', 'gpiozero', 'jinja2', 'psychrolib'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_python_dash_m_works() -> None:
    done = subprocess.run([sys.executable, "-m", "dryward", "--version"], capture_output=True, text=True, check=True)
    assert done.stdout.startswith("dryward")


def test_a_letter_the_terminal_lacks_ends_no_command() -> None:
    told = subprocess.run(
        [sys.executable, "-m", "dryward.doors.cli", "calc", "seasoning", "--piece", "č-1=905", "--salt", "25"],
        env={**os.environ, "PYTHONIOENCODING": "latin-1"}, capture_output=True, check=True,
    )  # fmt: skip
    assert b"\\u010d-1" in told.stdout


def test_a_speed_that_is_no_number_is_refused(tmp_path: Path) -> None:
    assert CliRunner().invoke(main, ["init", str(tmp_path / "shed"), "--kind", "twin"]).exit_code == 0
    told = CliRunner().invoke(main, ["serve", "--config", str(tmp_path / "shed" / "chamber.toml"), "--speed", "nan"])
    assert told.exit_code == 2
    assert "nan is no number to reckon with" in told.output
