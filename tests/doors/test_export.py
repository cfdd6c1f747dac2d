"""``dryward export`` and what it refuses."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from dryward.doors.cli import main
from tests.record.batch import write_batch


def test_it_writes_both_forms_and_writes_over_nothing(tmp_path: Path) -> None:
    record = tmp_path / "r.db"
    write_batch(record)
    words = [
        "export",
        "r1",
        "--record",
        str(record),
        "--csv",
        str(tmp_path / "csv"),
        "--jsonl",
        str(tmp_path / "r.jsonl"),
    ]
    result = CliRunner().invoke(main, words)
    assert result.exit_code == 0, result.output
    assert (tmp_path / "csv" / "reading.csv").exists()
    assert (tmp_path / "r.jsonl").exists()
    assert CliRunner().invoke(main, words).exit_code == 1
    assert CliRunner().invoke(main, words[:6]).exit_code == 1
    assert CliRunner().invoke(main, words[:4]).exit_code == 2
    assert CliRunner().invoke(main, ["export", "nope", *words[2:4], "--jsonl", str(tmp_path / "n")]).exit_code == 1
    assert not (tmp_path / "n").exists()


def test_parquet_without_its_library_says_what_to_install(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    write_batch(tmp_path / "r.db")
    words = ["export", "r1", "--record", str(tmp_path / "r.db"), "--parquet", str(tmp_path / "out")]
    result = CliRunner().invoke(main, words)
    assert result.exit_code == 1
    assert "pip install 'dryward[parquet]'" in result.output
