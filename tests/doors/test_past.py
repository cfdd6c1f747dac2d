"""Commands that read the record, with no daemon running."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from pathlib import Path
from unittest.mock import Mock

import pytest
from click.testing import CliRunner

from dryward.doors.cli import main
from dryward.doors.past import minute
from tests.doors.conftest import Command
from tests.record.batch import write_batch


def test_no_record_yet(command: Command) -> None:
    result = command("runs")
    assert result.exit_code == 1
    assert "no record" in result.output


@pytest.mark.usefixtures("daemon")
def test_an_unknown_run_is_named(command: Command) -> None:
    for verb in ("review", "replay"):
        result = command(verb, "nope")
        assert result.exit_code == 1
        assert "nope" in result.output


@pytest.mark.usefixtures("daemon")
def test_runs_as_json(command: Command, chamber_file: Path) -> None:
    assert json.loads(command("runs", "--json").output) == []
    command("load", str(chamber_file.with_name("batch.toml")))
    command("start", str(chamber_file.with_name("program.toml")))
    listed = json.loads(command("runs", "--json").output)
    assert len(listed) == 1
    assert listed[0]["end_state"] == ""
    result = command("review", listed[0]["run_id"])
    assert result.exit_code == 0


def test_a_file_that_is_no_record_is_refused(tmp_path: Path) -> None:
    other = tmp_path / "note.txt"
    other.write_text("not a database at all, just text that is long enough to be one" * 40)
    result = CliRunner().invoke(main, ["runs", "--record", str(other)])
    assert result.exit_code == 1
    assert "note.txt" in result.output


READING = [
    ["runs"], ["find"], ["review", "r1"], ["review", "r1", "--html", "PAGE"], ["replay", "r1"], ["compare", "r1", "r1"],
    ["export", "r1", "--jsonl", "PAGE"], ["tune", "show"],
]  # fmt: skip


@pytest.mark.parametrize("words", READING, ids=" ".join)
@pytest.mark.parametrize("harm", ["empty", "another's", "newer"])
def test_a_database_that_is_no_record_of_ours_is_named_and_left_alone(
    tmp_path: Path, words: list[str], harm: str
) -> None:
    path = tmp_path / "r.db"
    if harm == "newer":
        write_batch(path)
    with closing(sqlite3.connect(path)) as conn:
        if harm == "another's":
            conn.execute("CREATE TABLE run (title)")
        conn.execute(f"PRAGMA user_version = {99 if harm == 'newer' else 0}")
    before = path.read_bytes()
    words = [str(tmp_path / "page") if word == "PAGE" else word for word in words]
    result = CliRunner().invoke(main, [*words, "--record", str(path)])
    assert result.exit_code == 1
    assert isinstance(result.exception, SystemExit)
    said = {"empty": "it is empty", "another's": "not a record of dryward", "newer": "newer dryward"}
    assert said[harm] in result.output
    assert path.read_bytes() == before
    assert not (tmp_path / "page").exists()


@pytest.mark.parametrize("words", READING[2:7], ids=" ".join)
def test_readings_that_have_gone_bad_end_in_a_sentence(tmp_path: Path, words: list[str]) -> None:
    path = tmp_path / "r.db"
    write_batch(path)
    with closing(sqlite3.connect(path)) as conn:
        roots = [
            root for (root,) in conn.execute("SELECT rootpage FROM sqlite_master WHERE name IN ('reading', 'event')")
        ]
    with path.open("r+b") as file:
        for root in roots:
            file.seek((root - 1) * 4096)
            file.write(b"\x13" * 4096)
    words = [str(tmp_path / "page") if word == "PAGE" else word for word in words]
    result = CliRunner().invoke(main, [*words, "--record", str(path)])
    assert result.exit_code == 1
    assert isinstance(result.exception, SystemExit)
    assert "restore a backup" in result.output


@pytest.mark.parametrize("words", [["runs"], ["backup", "COPY"], ["note", "r1", "x"]], ids=" ".join)
def test_a_schema_that_is_no_text_ends_in_a_sentence(tmp_path: Path, words: list[str]) -> None:
    path = tmp_path / "r.db"
    write_batch(path)
    path.write_bytes(path.read_bytes().replace(b"INDEX note_by_run ON note", b"INDEX note\xffby_run ON n\xffte"))
    words = [str(tmp_path / "copy") if word == "COPY" else word for word in words]
    result = CliRunner().invoke(main, [*words, "--record", str(path)])
    assert result.exit_code == 1
    assert isinstance(result.exception, SystemExit)
    assert "schema is damaged" in result.output


def test_a_record_that_somebody_holds_is_not_called_damaged(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "r.db"
    write_batch(path)
    held = sqlite3.OperationalError("database is locked")
    held.sqlite_errorcode = sqlite3.SQLITE_BUSY
    monkeypatch.setattr("dryward.record.queries.open_readonly", Mock(side_effect=held))
    result = CliRunner().invoke(main, ["runs", "--record", str(path)])
    assert result.exit_code == 1
    assert "another program" in result.output
    assert "restore" not in result.output


def test_a_run_that_cannot_be_stepped_again_or_whose_words_have_gone_bad_is_a_sentence(tmp_path: Path) -> None:
    path = tmp_path / "r.db"
    write_batch(path)  # without an engine, so without its state
    result = CliRunner().invoke(main, ["replay", "r1", "--record", str(path)])
    assert (result.exit_code, "no state to begin from" in result.output) == (1, True)
    with closing(sqlite3.connect(path)) as conn:
        conn.execute("UPDATE session SET chamber = replace(chamber, '\"period_s\":1.0', '\"period_s\":1e9')")
        conn.commit()
    for words in (["review", "r1"], ["compare", "r1", "r1"], ["export", "r1", "--jsonl", str(tmp_path / "x")]):
        result = CliRunner().invoke(main, [*words, "--record", str(path)])
        assert (result.exit_code, "period_s" in result.output) == (1, True)
        assert isinstance(result.exception, SystemExit)


def test_a_page_is_written_over_a_page_and_over_nothing_else(tmp_path: Path) -> None:
    path = tmp_path / "r.db"
    write_batch(path)
    before = path.read_bytes()
    words = ["review", "r1", "--record", str(path), "--html"]
    assert CliRunner().invoke(main, [*words, str(path)]).exit_code == 1
    assert path.read_bytes() == before
    for _ in range(2):
        assert CliRunner().invoke(main, [*words, str(tmp_path / "page.html")]).exit_code == 0


def test_times_are_shown_to_the_minute() -> None:
    assert minute("2026-03-01T06:30:59.123Z") == "2026-03-01 06:30"
    assert minute(None) == "-"


def test_a_review_is_written_as_a_page(tmp_path: Path) -> None:
    write_batch(tmp_path / "r.db")
    page = tmp_path / "r1.html"
    result = CliRunner().invoke(main, ["review", "r1", "--record", str(tmp_path / "r.db"), "--html", str(page)])
    assert result.exit_code == 0, result.output
    assert page.read_text().startswith("<!doctype html>")
    for run_id, target in (("nope", page), ("r1", tmp_path / "no" / "folder.html")):
        words = ["review", run_id, "--record", str(tmp_path / "r.db"), "--html", str(target)]
        assert CliRunner().invoke(main, words).exit_code == 1


def test_a_review_names_a_calibration_that_was_too_old_when_the_run_began(tmp_path: Path) -> None:
    write_batch(tmp_path / "r.db")  # of October 2025
    for name, utc in (("air", "2024-10-01"), ("top", "2025-10-01")):
        line = {"line": "result", "utc": f"{utc}T10:00:00+00:00", "who": "ben", "kind": "thermometer", "name": name}
        with (tmp_path / "r.calibrations.jsonl").open("a") as file:
            file.write(json.dumps({**line, "device": "d", "calibration": f"{name}-1"}) + "\n")
    said = CliRunner().invoke(main, ["review", "r1", "--record", str(tmp_path / "r.db")]).output
    assert "When this run began, calibration air-1 of air: 373 days old" in " ".join(said.split())
    assert "top-1" not in said
    told = json.loads(CliRunner().invoke(main, ["review", "r1", "--json", "--record", str(tmp_path / "r.db")]).stdout)
    assert len(told["old_calibrations"]) == 1
