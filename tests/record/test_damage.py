"""Setting a damaged file aside loses nothing and overwrites nothing."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from dryward.record.damage import is_damaged, is_locked, move_aside
from tests.record.scene import UTC_S


def test_the_file_and_its_companions_move_together_to_a_dated_name(tmp_path: Path) -> None:
    path = tmp_path / "r.sqlite"
    for ending in ("", "-wal", "-shm"):
        Path(f"{path}{ending}").write_text(ending or "main")
    aside = move_aside(path, at_utc_s=UTC_S)
    assert aside.name == "r.sqlite.damaged-20251009T085320Z"
    assert sorted(p.name.removeprefix(aside.name) for p in tmp_path.iterdir()) == ["", "-shm", "-wal"]
    assert aside.read_text() == "main"


def test_a_second_one_in_the_same_second_gets_a_number(tmp_path: Path) -> None:
    path = tmp_path / "r.sqlite"
    names = []
    for text in ("one", "two", "three"):
        path.write_text(text)
        names.append(move_aside(path, at_utc_s=UTC_S))
    assert [n.read_text() for n in names] == ["one", "two", "three"]


def test_damage_is_told_from_a_disk_that_fails(tmp_path: Path) -> None:
    bad = tmp_path / "bad.sqlite"
    bad.write_bytes(b"x" * 5000)
    with closing(sqlite3.connect(bad)) as conn, pytest.raises(sqlite3.DatabaseError) as damaged:
        conn.execute("SELECT * FROM sqlite_master")
    with pytest.raises(sqlite3.OperationalError) as missing:
        sqlite3.connect(f"file:{tmp_path}/none.sqlite?mode=ro", uri=True)
    assert is_damaged(damaged.value)
    assert not is_damaged(missing.value)
    assert not is_damaged(OSError("disk on fire"))


def test_a_file_that_somebody_holds_is_told_from_damage(tmp_path: Path) -> None:
    path = tmp_path / "r.sqlite"
    with closing(sqlite3.connect(path)) as one, closing(sqlite3.connect(path, timeout=0.0)) as other:
        one.execute("BEGIN EXCLUSIVE")
        with pytest.raises(sqlite3.OperationalError) as held:
            other.execute("SELECT count(*) FROM sqlite_master")
    assert is_locked(held.value)
    assert not is_damaged(held.value)
