"""Values are compared and hashed by their fields, hold nothing else, and mypy lets nobody set one."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from dryward.core.frozen import frozen

SETS_A_FIELD = """
from dryward.core.progress import Run
run = Run()
run.step_index = 1
"""


@frozen
class Spot:
    x: float = 0.0
    y: float = 0.0


def test_equal_fields_make_equal_values() -> None:
    assert Spot(1.0) == Spot(1.0, 0.0) != Spot(2.0)
    assert len({Spot(1.0), Spot(1.0), Spot(2.0)}) == 2
    assert replace(Spot(1.0), y=2.0) == Spot(1.0, 2.0)


def test_a_value_holds_its_fields_only() -> None:
    with pytest.raises(AttributeError):
        Spot().z = 1.0  # type: ignore[attr-defined]


def test_setting_a_field_is_a_type_error(tmp_path: Path) -> None:
    root = Path(__file__).parents[2]
    script = tmp_path / "sets.py"
    script.write_text(SETS_A_FIELD)
    checked = subprocess.run(
        [sys.executable, "-m", "mypy", "--config-file", str(root / "pyproject.toml"), str(script)],
        cwd=root,
        capture_output=True,
        text=True,
    )
    assert 'Property "step_index" defined in "Run" is read-only' in checked.stdout, checked.stdout + checked.stderr
    assert "Found 1 error" in checked.stdout
