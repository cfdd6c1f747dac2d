"""What happens to the record when the disk, the file or an entry is bad: control does not notice, nothing dear is lost."""

from __future__ import annotations

import os
import resource
import sqlite3
import subprocess
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

import pytest

from dryward.core.commands import Commands
from dryward.core.inputs import Inputs, Reading
from dryward.record.queries import Record
from tests.record.scene import air, began, ended, event, put, stamp, weigh, writer


def rows(path: Path, sql: str) -> list[Any]:
    with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as conn:
        return conn.execute(sql).fetchall()


@contextmanager
def file_size_limit(limit: int) -> Iterator[None]:
    """No file of this process may grow beyond ``limit`` bytes: to SQLite, a full disk."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (limit, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A file system of 600 kB; skipped where mounting is not allowed."""
    place = tmp_path / "small"
    place.mkdir()
    if subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=600k", "tmpfs", str(place)], capture_output=True, check=False
    ).returncode:
        pytest.skip("mounting a file system is not allowed here")
    yield place
    subprocess.run(["umount", "-l", str(place)], check=True)


def test_a_full_disk_keeps_what_is_dear_gives_up_the_oldest_readings_and_resumes(tmp_path: Path) -> None:
    path = tmp_path / "r.sqlite"
    book = writer(path, commit_s=0.0, max_readings=300)
    put(book, 0, marks=[began()])
    with file_size_limit(path.stat().st_size + 30_000):
        tick = 0
        while book.health().ok:
            tick += 1
            put(book, tick, Inputs(readings=(Reading("air", 50.0 + tick / 7.0, tick - 0.1),) * 10))
        failed_at = tick
        for tick in range(failed_at + 1, failed_at + 101):
            put(book, tick, Inputs(readings=(Reading("air", 50.0, tick - 0.1),) * 10))
            put_weight = tick == failed_at + 3
            if put_weight:
                put(book, tick, *weigh(tick))
        health = book.health()
        assert not health.ok
        assert str(path) in health.why
        assert health.buffered <= 300
        assert health.dropped > 500
        assert not book.flush()
    assert book.flush()
    health = book.health()
    assert (health.ok, health.buffered, health.why) == (True, 0, "")
    put(book, tick + 1, air(tick + 1))
    assert book.close()
    assert rows(path, "SELECT count(*) FROM weigh_in") == [(1,)]
    assert rows(path, "SELECT sum(readings) FROM lost") == [(health.dropped,)]
    kept = rows(path, "SELECT count(*) FROM reading")[0][0]
    assert kept + health.dropped == tick * 10 + 1
    with Record(path) as record:
        assert record.lost("r1") == health.dropped


def test_a_really_full_file_system_is_survived(small_disk: Path) -> None:
    path = small_disk / "r.sqlite"
    ballast = small_disk / "ballast"
    book = writer(path, commit_s=0.0)
    put(book, 0, air(0))
    ballast.write_bytes(b"x" * (os.statvfs(small_disk).f_bavail * os.statvfs(small_disk).f_frsize))
    for tick in range(1, 300):
        put(book, tick, *weigh(tick) if tick % 100 == 0 else (air(tick),))
    assert not book.health().ok
    assert "full" in book.health().why
    ballast.unlink()
    assert book.flush()
    assert book.close()
    assert rows(path, "SELECT count(*) FROM weigh_in") == [(2,)]
    assert rows(path, "SELECT count(*) FROM reading") == [(300 - 2,)]
    assert rows(path, "PRAGMA integrity_check") == [("ok",)]


def test_a_read_only_file_system_is_survived(small_disk: Path) -> None:
    path = small_disk / "r.sqlite"
    book = writer(path, commit_s=0.0)
    put(book, 0, air(0))
    book._store.close()
    subprocess.run(["mount", "-o", "remount,ro", str(small_disk)], check=True)
    put(book, 1, *weigh(1))
    assert not book.health().ok
    subprocess.run(["mount", "-o", "remount,rw", str(small_disk)], check=True)
    put(book, 2, air(2))
    assert book.flush()
    book.close()
    assert rows(path, "SELECT count(*) FROM weigh_in") == [(1,)]


def test_a_record_that_cannot_even_be_opened_fails_softly_and_begins_when_it_can(tmp_path: Path) -> None:
    (tmp_path / "data").write_text("a file where the folder should be")
    path = tmp_path / "data" / "r.sqlite"
    book = writer(path, commit_s=0.0)
    put(book, 0, *weigh(0))
    assert not book.health().ok
    (tmp_path / "data").unlink()
    put(book, 1, air(1))
    assert book.flush()
    assert book.close()
    assert rows(path, "SELECT count(*) FROM weigh_in") == [(1,)]


def test_a_lock_held_by_another_program_only_delays(tmp_path: Path) -> None:
    path = tmp_path / "r.sqlite"
    book = writer(path, commit_s=0.0, busy_s=0.01)
    put(book, 0, air(0))
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        put(book, 1, *weigh(1))
        assert "locked" in book.health().why
        other.execute("ROLLBACK")
    assert book.flush()
    assert book.close()
    assert rows(path, "SELECT count(*) FROM weigh_in") == [(1,)]
    assert rows(path, "SELECT count(*) FROM session") == [(1,)]


@pytest.mark.parametrize("how", ["header", "middle"])
def test_a_damaged_file_is_set_aside_and_the_new_one_knows_the_run(tmp_path: Path, how: str) -> None:
    path = tmp_path / "r.sqlite"
    book = writer(path, commit_s=0.0)
    put(book, 0, air(0), marks=[began(state={"tick": -1})])
    put(book, 1, air(1))
    book._store.close()
    content = bytearray(path.read_bytes())
    if how == "header":
        content[:100] = b"\x13" * 100
    else:
        content[4096:] = b"\x13" * (len(content) - 4096)
    path.write_bytes(bytes(content))
    put(book, 2, *weigh(2))
    book.flush()
    put(book, 3, air(3))
    assert book.flush()
    put(book, 4, air(4), marks=[ended(state="aborted", reason="the fan stopped")])
    aside = book.health().set_aside
    assert book.close()
    assert aside is not None
    assert aside.name.startswith("r.sqlite.damaged-20251009T")
    assert bytes(content[:4096]) == aside.read_bytes()[:4096]
    assert rows(path, "SELECT count(*) FROM weigh_in") == [(1,)]
    assert rows(path, "SELECT carried_from, first_tick, start_state FROM session") == [
        (aside.name, 2, '{"tick":1,"trips":[],"seen":{}}')
    ]
    with Record(path) as record:
        run = record.run("r1")
        assert (run.end_state, run.start_tick, len(record.pieces("r1"))) == ("aborted", 0, 2)
        assert [t for t, _ in record.inputs("r1")] == [2, 3, 4]
        assert record.stretches("r1")[0].start_state == '{"tick":1,"trips":[],"seen":{}}'


def test_a_file_deleted_under_the_writer_is_begun_again(tmp_path: Path) -> None:
    path = tmp_path / "r.sqlite"
    book = writer(path, commit_s=0.0)
    put(book, 0, marks=[began()])
    for ending in ("", "-wal", "-shm"):
        Path(f"{path}{ending}").unlink()
    put(book, 1, *weigh(1))
    assert book.close()
    assert rows(path, "SELECT count(*) FROM weigh_in") == [(1,)]
    assert rows(path, "SELECT run_id FROM run") == [("r1",)]


def test_an_entry_that_fits_no_table_is_put_down_as_text_and_blocks_nothing(tmp_path: Path) -> None:
    path = tmp_path / "r.sqlite"
    book = writer(path, commit_s=1e9)
    put(book, 0, air(0), Commands(on=frozenset({"fan"})))
    put(book, 1, Inputs(readings=(Reading("air", "warm", 0.5),)), Commands(on=frozenset({"heater", "fan"})))  # type: ignore[arg-type]
    put(book, 2, Inputs(readings=(Reading("air", 51.0, 1.5),)), Commands(on=frozenset({"heater"})))
    put(book, 3, *weigh(3), figures={"duty": 1.0})
    assert book.flush()
    health = book.health()
    book.close()
    assert (health.ok, health.refused) == (True, 1)
    assert rows(path, "SELECT tick, value FROM reading") == [(0, 50.25), (2, 51.0)]
    assert rows(path, "SELECT count(*) FROM weigh_in") == [(1,)]
    assert [r[0] for r in rows(path, "SELECT tick FROM refused")] == [1]
    assert "warm" in rows(path, "SELECT what FROM refused")[0][0]
    assert rows(path, "SELECT tick, output, is_on FROM output_change") == [
        (0, "fan", 1),
        (2, "fan", 0),
        (2, "heater", 1),
        (3, "heater", 0),
    ]


def test_a_tick_that_is_put_twice_is_recorded_once(tmp_path: Path) -> None:
    book = writer(tmp_path / "r.sqlite", commit_s=0.0)
    put(book, 7, air(7))
    put(book, 7, air(7, 99.0))
    assert (book.health().ok, book.health().refused) == (True, 1)
    book.close()
    assert rows(tmp_path / "r.sqlite", "SELECT tick, value FROM reading") == [(7, 50.25)]


def test_half_characters_from_outside_do_not_stop_the_record(tmp_path: Path) -> None:
    book = writer(tmp_path / "r.sqlite", commit_s=0.0)
    put(book, 0, *weigh(0, piece="loin\ud800"))
    assert book.health().ok
    assert book.health().refused == 0
    book.close()
    assert rows(tmp_path / "r.sqlite", "SELECT json_extract(ask, '$.piece') IS NOT NULL FROM request") == [(1,)]


def test_events_and_weighings_are_never_dropped_however_long_the_disk_fails(tmp_path: Path) -> None:
    (tmp_path / "data").write_text("in the way")
    book = writer(tmp_path / "data" / "r.sqlite", commit_s=1e9, max_readings=20, batch_readings=10**9)
    for tick in range(1000):
        told, decided = (
            weigh(tick)
            if tick % 100 == 0
            else (air(tick), Commands(on=frozenset({"heater"} if tick % 50 < 25 else ()), events=(event(),)))
        )
        book.put(tick, stamp(tick), told, Commands(on=decided.on, events=decided.events, replies=decided.replies), None)
    assert book.health().buffered == 20
    (tmp_path / "data").unlink()
    assert book.flush()
    book.close()
    path = tmp_path / "data" / "r.sqlite"
    assert rows(
        path, "SELECT (SELECT count(*) FROM weigh_in), (SELECT count(*) FROM event), (SELECT count(*) FROM reading)"
    ) == [(10, 990, 20)]
    assert rows(path, "SELECT from_tick, to_tick, readings FROM lost") == [(1, 979, 970)]
    assert rows(path, "SELECT count(*) FROM output_change") == [(40,)]
