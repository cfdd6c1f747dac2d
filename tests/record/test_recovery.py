"""What the daemon finds of the record before its first tick."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from dryward.record.recovery import recover
from dryward.record.schema import newest
from tests.record.scene import UTC_S, air, put, writer


def test_recover_takes_up_the_last_state_and_the_next_free_tick(tmp_path: Path) -> None:
    path = tmp_path / "r.sqlite"
    assert recover(path, at_utc_s=UTC_S).checkpoint is None
    book = writer(path)
    put(book, 41, air(41))
    book.close()
    found = recover(path, at_utc_s=UTC_S)
    assert found.checkpoint is not None
    assert (found.next_tick, found.checkpoint.tick, found.why) == (42, 41, "")


def test_recover_sets_a_file_of_nonsense_aside_and_says_so(tmp_path: Path) -> None:
    path = tmp_path / "r.sqlite"
    path.write_bytes(b"not a database " * 1000)
    found = recover(path, at_utc_s=UTC_S)
    assert found.set_aside is not None
    assert found.set_aside.exists()
    assert not path.exists()
    assert found.set_aside.name in found.why


def test_recover_saves_the_state_from_a_file_whose_readings_are_damaged(tmp_path: Path) -> None:
    """A latched trip must not be forgotten because a page of readings went bad."""
    path = tmp_path / "r.sqlite"
    book = writer(path)
    for tick in range(2000):
        put(book, tick, air(tick))
    book.close()
    root = _root_page(path, "reading")
    with path.open("r+b") as file:
        file.seek((root - 1) * 4096)
        file.write(b"\x13" * 4096)
    found = recover(path, at_utc_s=UTC_S)
    assert found.set_aside is not None
    assert found.checkpoint is not None
    assert found.checkpoint.tick == 1999
    assert found.next_tick == 2000


def test_a_file_of_a_newer_version_is_set_aside_not_written_into(tmp_path: Path) -> None:
    path = tmp_path / "r.sqlite"
    writer(path).close()
    with closing(sqlite3.connect(path)) as conn:
        conn.execute(f"PRAGMA user_version = {newest() + 1}")
    before = path.read_bytes()
    found = recover(path, at_utc_s=UTC_S)
    assert found.set_aside is not None
    assert found.set_aside.read_bytes() == before
    assert "schema" in found.why


@pytest.mark.parametrize(
    ("word", "bad"), [(b"INDEX note_by_run ON note", b"INDEX note\xffby_run ON n\xffte"), (b"shed-box", b"shed\xffbox")]
)
def test_words_that_are_no_text_are_damage_too(tmp_path: Path, word: bytes, bad: bytes) -> None:
    """SQLite puts a damaged name of its schema into its complaint, which Python cannot decode; a text in a row fails without a number."""
    path = _garbled(tmp_path, word, bad)
    found = recover(path, at_utc_s=UTC_S)
    assert found.set_aside is not None
    assert not path.exists()


def test_a_writer_that_meets_a_schema_that_is_no_text_begins_another_file(tmp_path: Path) -> None:
    book = writer(_garbled(tmp_path, b"INDEX note_by_run ON note", b"INDEX note\xffby_run ON n\xffte"), first_tick=10)
    for tick in range(10, 200):
        put(book, tick, air(tick))
        book.flush()
    assert book.health().set_aside is not None
    assert book.close()


def _garbled(folder: Path, word: bytes, bad: bytes) -> Path:
    path = folder / "r.sqlite"
    book = writer(path)
    put(book, 5, air(5))
    book.close()
    content = path.read_bytes()
    assert word in content
    path.write_bytes(content.replace(word, bad))
    return path


def test_a_database_of_another_program_is_set_aside_not_written_into(tmp_path: Path) -> None:
    path = tmp_path / "r.sqlite"
    with closing(sqlite3.connect(path)) as conn:
        conn.execute("CREATE TABLE album (title)")
        conn.execute("PRAGMA user_version = 2")
    before = path.read_bytes()
    found = recover(path, at_utc_s=UTC_S)
    assert found.set_aside is not None
    assert found.set_aside.read_bytes() == before
    assert "not a record of dryward" in found.why


def test_a_file_that_cannot_be_read_now_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "r.sqlite"
    path.mkdir()
    found = recover(path, at_utc_s=UTC_S)
    assert (found.checkpoint, found.set_aside) == (None, None)
    assert "left where it is" in found.why
    assert path.is_dir()


def _root_page(path: Path, table: str) -> int:
    with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as conn:
        return int(conn.execute("SELECT rootpage FROM sqlite_master WHERE name = ?", (table,)).fetchone()[0])
