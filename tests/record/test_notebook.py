"""Notes and tags: judged, found again, written beside no service without touching the rest of the record."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from dryward.record.lines import NoSuchRun, NoteLine
from dryward.record.notebook import LONGEST_TEXT, BadNote, judged, matching, tags_of, write_down, written
from dryward.record.queries import Record
from tests.record.batch import write_batch
from tests.record.scene import UTC_S, air, put, writer


@pytest.fixture
def path(tmp_path: Path) -> Path:
    write_batch(tmp_path / "r.db")
    return tmp_path / "r.db"


def line(text: str = "", *, tags: str = "", piece: str = "", run_id: str = "r1", photo: str = "") -> NoteLine:
    return NoteLine(run_id, piece, "2026-03-01T10:00:00.000Z", "ann", text, photo, tags)


def test_a_note_is_on_record_and_everything_else_stays(path: Path) -> None:
    with closing(sqlite3.connect(path)) as conn:
        before = {t: conn.execute(f"SELECT count(*) FROM {t}").fetchone() for t in ("session", "reading", "checkpoint")}
    write_down(path, written("r1", " Crust a little hard ", who="ann", piece="loin-a"), at_utc_s=UTC_S + 1e6)
    with Record(path) as record:
        newest = record.notes("r1")[-1]
        assert record.latest_checkpoint() is not None
        assert record.last_tick() == 7200
    assert newest == NoteLine("r1", "loin-a", "2025-10-20T22:40:00.000Z", "ann", "Crust a little hard", "", "")
    with closing(sqlite3.connect(path)) as conn:
        assert before == {t: conn.execute(f"SELECT count(*) FROM {t}").fetchone() for t in before}
        assert conn.execute("PRAGMA integrity_check").fetchone() == ("ok",)


def test_the_next_service_goes_on_after_a_note(path: Path) -> None:
    write_down(path, written("r1", "x", who="ann"), at_utc_s=UTC_S)
    book = writer(path, first_tick=8000)
    put(book, 8000, air(8000))
    assert book.close()
    with Record(path) as record:
        assert record.last_tick() == 8000
        assert record.notes("r1")[-1].text == "x"


def test_each_photo_is_named_and_a_second_one_is_a_note_of_its_own(path: Path) -> None:
    write_down(path, written("r1", "cut", who="a", photos=("1.jpg", "2.jpg"), tags=("tasting",)), at_utc_s=UTC_S)
    with Record(path) as record:
        kept = [(n.text, n.photo, n.tags) for n in record.notes("r1")[-2:]]
    assert kept == [("cut", "1.jpg", "tasting"), ("", "2.jpg", "")]


@pytest.mark.parametrize(
    ("words", "why"),
    [
        ({"text": "  "}, "empty"),
        ({"text": "x", "piece": "ham"}, "no piece 'ham'; it has: loin-a, loin-b"),
        ({"text": "x" * (LONGEST_TEXT + 1)}, "shorten it"),
        ({"text": "x", "tags": ("two words",)}, "is no tag"),
        ({"text": "x", "tags": ("--x",)}, "is no tag"),
        ({"text": "x", "tags": ("y" * 40,)}, "is no tag"),
    ],
)
def test_what_is_no_note_is_refused_with_the_reason_and_nothing_is_written(
    path: Path, words: dict[str, str], why: str
) -> None:
    with pytest.raises(BadNote, match=why):
        write_down(path, written("r1", who="ann", **words), at_utc_s=UTC_S)  # type: ignore[arg-type]
    with Record(path) as record:
        assert len(record.notes("r1")) == 1


def test_a_run_that_is_not_on_record_gets_no_note(path: Path) -> None:
    with pytest.raises(NoSuchRun, match="r1"):
        write_down(path, written("nope", "x", who="ann"), at_utc_s=UTC_S)
    with Record(path) as record, pytest.raises(BadNote, match="nothing"):
        judged(record, ())


def test_the_newest_word_about_a_tag_holds() -> None:
    notes = [
        line(tags="pepper thick"),
        line(tags="-pepper"),
        line(tags="grüne", piece="loin-a"),
        line(tags="-never-was"),
    ]
    assert tags_of(notes) == {"": ("thick",), "loin-a": ("grüne",)}
    assert tags_of([*notes, line(tags="pepper")])[""] == ("thick", "pepper")


def test_a_note_is_found_by_all_its_words_in_whatever_case() -> None:
    notes = [
        line("Ränder sehr hart"),
        line("mild", tags="tasting", piece="loin-a"),
        line(photo="Rand.jpg", run_id="r2"),
    ]
    assert matching(notes, ["RÄNDER", "hart"]) == notes[:1]
    assert matching(notes, ["rand"]) == notes[2:]
    assert matching(notes, ["loin-a"]) == notes[1:2]
    assert matching(notes, [], ["Tasting"]) == notes[1:2]
    assert matching(notes, ["mild"], ["thick"]) == []
    assert matching(notes, []) == notes


def test_a_tag_that_was_taken_back_finds_nothing_until_it_is_given_again() -> None:
    notes = [
        line("good", tags="pepper thick"),
        line(tags="-pepper"),
        line(tags="pepper", run_id="r2"),
        line(tags="pepper", piece="loin-a"),
    ]
    assert matching(notes, [], ["pepper"]) == notes[2:]
    assert matching(notes, [], ["thick"]) == notes[:1]
    again = [*notes, line(tags="pepper")]
    assert matching(again, ["good"], ["pepper"]) == notes[:1]
