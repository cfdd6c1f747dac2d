"""note, tag, find: with the service running and without it, and shown in the review."""

from __future__ import annotations

import json
from contextlib import closing
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from dryward.doors.cli import main
from dryward.service.lock import ChamberLock
from tests.doors.conftest import Command
from tests.record.batch import write_batch


def run(*words: str) -> Result:
    return CliRunner().invoke(main, words)


@pytest.mark.usefixtures("daemon")
def test_a_note_goes_through_the_running_service_and_is_in_the_review_at_once(
    command: Command, chamber_file: Path
) -> None:
    command("load", str(chamber_file.with_name("batch.toml")))
    command("start", str(chamber_file.with_name("program.toml")))
    run_id = json.loads(command("runs", "--json").output)[0]["run_id"]
    taken = command("note", run_id, "salted", "twice", "--piece", "loin-1", "--photo", "a.jpg", "--name", "Ines")
    assert taken.exit_code == 0, taken.output
    assert command("tag", run_id, "pepper").exit_code == 0
    text = command("review", run_id).output
    assert "Ines, loin-1: salted twice (photo a.jpg)" in text
    assert "Tags of the run: pepper" in text
    refused = command("note", run_id, "x", "--piece", "ham")
    assert refused.exit_code == 1
    assert "no piece 'ham'" in refused.output
    alone = run("note", run_id, "x", "--record", str(chamber_file.with_name("record.db")))
    assert alone.exit_code == 1
    assert "leave --record out" in alone.output


def test_without_the_service_the_command_writes_by_itself(command: Command, chamber_file: Path) -> None:
    assert "no record" in command("note", "r1", "x").output
    write_batch(chamber_file.with_name("record.db"))
    taken = command("note", "r1", "mild,", "a little salty", "--tasting", "--piece", "loin-a")
    assert taken.exit_code == 0, taken.output
    assert command("note", "nope", "x").exit_code == 1
    assert command("note", "r1").exit_code == 1
    (found,) = json.loads(command("find", "SALTY", "--tag", "tasting", "--json").output)
    assert (found["run_id"], found["piece"], found["text"]) == ("r1", "loin-a", "mild, a little salty")


def test_a_record_somebody_else_writes_is_left_alone(command: Command, chamber_file: Path) -> None:
    """No socket answers, but another process has the record: two writers must never be."""
    path = chamber_file.with_name("record.db")
    write_batch(path)
    before = path.read_bytes()
    with closing(ChamberLock(path)):
        refused = command("note", "r1", "x")
    assert refused.exit_code == 1
    assert "Nothing was written" in refused.output
    assert path.read_bytes() == before


def test_tags_are_given_and_taken_back(tmp_path: Path) -> None:
    path = tmp_path / "r.db"
    write_batch(path)
    for words in (["pepper", "thick"], ["pepper", "--remove"]):
        assert run("tag", "r1", *words, "--record", str(path)).exit_code == 0
    assert "Tags of the run: thick" in run("review", "r1", "--record", str(path)).output
    page = tmp_path / "page.html"
    run("review", "r1", "--record", str(path), "--html", str(page))
    assert "<span>thick</span>" in page.read_text()
    assert "<span>pepper</span>" not in page.read_text()


def test_what_is_found_is_told_with_run_piece_and_who(tmp_path: Path) -> None:
    path = tmp_path / "r.db"
    write_batch(path)
    run("note", "r1", "Crust hard", "--piece", "loin-b", "--photo", "c.jpg", "--tag", "crust", "--name", "Ben", "--record", str(path))  # fmt: skip
    shown = run("find", "crust", "--record", str(path)).output
    assert "run r1, loin-b, Ben:" in shown
    assert "Crust hard  photo c.jpg  #crust" in shown
    run("tag", "r1", "crust", "--remove", "--piece", "loin-b", "--record", str(path))
    assert "no longer #crust" in run("find", "--run", "r1", "--record", str(path)).output
    assert "No such note." in run("find", "--tag", "crust", "--record", str(path)).output
    assert "No such note." in run("find", "absent", "--record", str(path)).output
    assert "Crust" not in run("find", "--run", "r2", "--record", str(path)).output
