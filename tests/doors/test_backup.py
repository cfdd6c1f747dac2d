"""Backup and restore by command: nothing written over, nothing replaced under a running daemon."""

from __future__ import annotations

from contextlib import closing
from pathlib import Path

from click.testing import CliRunner, Result

from dryward.doors.cli import main
from dryward.record.queries import Record
from dryward.service.lock import ChamberLock
from tests.record.batch import write_batch


def run(*words: str) -> Result:
    return CliRunner().invoke(main, list(words))


def test_a_backup_restores_what_it_held_and_keeps_the_other(tmp_path: Path) -> None:
    record, copy = tmp_path / "r.db", tmp_path / "copy.db"
    write_batch(record)
    assert run("backup", str(copy), "--record", str(record)).exit_code == 0
    assert run("backup", str(copy), "--record", str(record)).exit_code == 1
    write_batch(record, "r2", first=20_000)
    result = run("restore", str(copy), "--record", str(record), "--yes")
    assert result.exit_code == 0, result.output
    with Record(record) as past:
        assert [r.run_id for r in past.runs()] == ["r1"]
    (aside,) = tmp_path.glob("r.db.replaced-*")
    with Record(aside) as past:
        assert len(past.runs()) == 2


def test_a_record_in_use_a_damaged_backup_and_a_no_change_nothing(tmp_path: Path) -> None:
    record, copy, bad = tmp_path / "r.db", tmp_path / "copy.db", tmp_path / "bad.db"
    write_batch(record)
    run("backup", str(copy), "--record", str(record))
    before = record.read_bytes()
    bad.write_bytes(copy.read_bytes()[:5000])
    with closing(ChamberLock(record)):
        refused = run("restore", str(copy), "--record", str(record), "--yes")
    assert refused.exit_code == 1
    assert "Another dryward" in refused.output
    assert run("restore", str(bad), "--record", str(record), "--yes").exit_code == 1
    assert run("restore", str(record), "--record", str(record), "--yes").exit_code == 1
    assert CliRunner().invoke(main, ["restore", str(copy), "--record", str(record)], input="n\n").exit_code == 1
    assert record.read_bytes() == before
