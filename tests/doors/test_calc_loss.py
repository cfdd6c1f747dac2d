"""``calc loss`` as typed."""

from __future__ import annotations

import json

from click.testing import CliRunner

from dryward.doors.calc import calc


def test_text_says_the_target_weight() -> None:
    result = CliRunner().invoke(calc, ["loss", "--green-g", "1000", "--loss-pct", "35"])
    assert result.exit_code == 0
    assert "Done at 650.0 g" in result.output


def test_json_carries_target_and_progress() -> None:
    result = CliRunner().invoke(calc, ["loss", "--green-g", "1000", "--loss-pct", "35", "--weight-g", "720", "--json"])
    assert json.loads(result.output) == {
        "green_g": 1000.0, "target_loss_pct": 35.0, "target_g": 650.0, "weight_g": 720.0, "loss_pct": 28.0, "to_go_g": 70.0, "done": False,
    }  # fmt: skip


def test_a_fraction_is_used_wrongly_and_named() -> None:
    result = CliRunner().invoke(calc, ["loss", "--green-g", "1000", "--loss-pct", "0.35"])
    assert result.exit_code == 2
    assert "write 35" in result.output
