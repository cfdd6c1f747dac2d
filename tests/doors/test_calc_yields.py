"""``calc yield`` as typed."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner

from dryward.doors.calc import calc


def test_json_and_text() -> None:
    arguments = ["yield", "--bought-g", "3000", "--trim-pct", "5", "--loss-pct", "35", "--price-per-kg", "9"]
    values = json.loads(CliRunner().invoke(calc, [*arguments, "--json"]).output)
    assert values["finished_g"] == pytest.approx(1852.5)
    assert values["cost_per_finished_kg"] == pytest.approx(27.0 / 1.8525)
    assert "61.8 % of what was bought" in CliRunner().invoke(calc, arguments).output


def test_a_fraction_is_named() -> None:
    result = CliRunner().invoke(calc, ["yield", "--bought-g", "3000", "--loss-pct", "0.35", "--price-per-kg", "9"])
    assert result.exit_code == 2
    assert "write 35" in result.output
