"""``dryward compare`` as text and as JSON."""

from __future__ import annotations

import json
from pathlib import Path

from click.testing import CliRunner

from dryward.doors.cli import main
from tests.record.batch import write_batch


def test_two_runs_are_compared(tmp_path: Path) -> None:
    record = tmp_path / "r.db"
    write_batch(record)
    write_batch(record, "r2", first=20_000, end="aborted")
    words = ["compare", "r1", "r2", "--record", str(record)]
    assert "aborted" in CliRunner().invoke(main, words).output
    assert [r["run_id"] for r in json.loads(CliRunner().invoke(main, [*words, "--json"]).output)] == ["r1", "r2"]
    assert CliRunner().invoke(main, ["compare", "r1", *words[3:]]).exit_code == 2
    assert CliRunner().invoke(main, ["compare", "r1", "nope", *words[3:]]).exit_code == 1
