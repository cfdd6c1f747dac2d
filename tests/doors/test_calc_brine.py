"""``calc brine`` as typed."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner

from dryward.doors.calc import calc


def test_json_carries_the_brine() -> None:
    """One mole of NaCl in 1 kg of water; Hamer & Wu 1972: water activity 0.96684."""
    values = json.loads(CliRunner().invoke(calc, ["brine", "--salt-g", "58.443", "--water-g", "1000", "--json"]).output)
    assert values["molality_mol_per_kg"] == pytest.approx(1.0)
    assert values["salt_pct_of_brine"] == pytest.approx(5.5216, abs=1e-4)
    assert values["water_activity"] == pytest.approx(0.96684, abs=3e-4)
    assert values["saturated"] is False


def test_text_says_when_salt_stays_as_crystals() -> None:
    result = CliRunner().invoke(calc, ["brine", "--salt-g", "400", "--water-g", "1000"])
    assert result.exit_code == 0
    assert "crystals" in result.output


def test_salt_by_the_spoon_is_used_wrongly() -> None:
    result = CliRunner().invoke(calc, ["brine", "--salt-g", "2 tbsp", "--water-g", "1000"])
    assert result.exit_code == 2
    assert "no weight" in result.output
