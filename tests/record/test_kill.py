"""A process that is killed loses nothing it had acknowledged. The long form: python -m tests.bench.killing."""

from __future__ import annotations

from pathlib import Path

from tests.bench.killing import kill_many


def test_kill_9_at_any_moment_loses_no_acknowledged_weighing_and_doubles_none(tmp_path: Path) -> None:
    result = kill_many(tmp_path / "r.sqlite", kills=8, seed=1)
    assert result.wrong == []
    assert result.acknowledged > 8
