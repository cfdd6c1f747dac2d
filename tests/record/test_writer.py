"""The writer never stands in the way, and what it acknowledged is durable."""

from __future__ import annotations

import sqlite3
import threading
from contextlib import closing
from pathlib import Path
from time import monotonic

import pytest

from dryward.core.commands import Commands
from dryward.record import writer as writer_module
from dryward.record.queries import Record
from tests.faults_live.stand import until
from tests.record.scene import air, event, put, stamp, weigh, writer


def test_flush_makes_an_acknowledged_weighing_durable(tmp_path: Path) -> None:
    """Read through a connection of its own while the writer still runs and its next commit is far away."""
    path = tmp_path / "r.sqlite"
    book = writer(path, threaded=True, commit_s=1e6)
    try:
        put(book, 0, *weigh(0))
        assert book.flush()
        with sqlite3.connect(f"file:{path}?mode=ro", uri=True) as reader:
            assert reader.execute("SELECT piece, weight_g FROM weigh_in").fetchall() == [("loin-a", 900.0)]
        reader.close()
    finally:
        assert book.close()


def test_the_writer_thread_is_gone_after_close(tmp_path: Path) -> None:
    book = writer(tmp_path / "r.sqlite", threaded=True)
    book.close()
    assert [t.name for t in threading.enumerate() if t.name == "record-writer"] == []


def test_the_newest_state_is_the_checkpoint_and_matches_the_last_tick(tmp_path: Path) -> None:
    path = tmp_path / "r.sqlite"
    book = writer(path, commit_s=1e6)
    for tick in range(5):
        put(book, tick, air(tick))
    assert book.flush()
    put(book, 5)
    with Record(path) as record:
        found = record.latest_checkpoint()
        assert found is not None
        assert (found.tick, found.state) == (4, '{"tick":4,"trips":[],"seen":{}}')
        assert record.last_tick() == 4
        assert (found.boot_id, found.boottime_s, found.synchronised) == ("boot-1", 504.0, True)
    put(book, 6, commands=Commands(events=(event(),), keep=True))
    with Record(path) as record:
        found = record.latest_checkpoint()
        assert found is not None
        assert found.tick == 6
    book.close()


def test_put_does_not_wait_for_a_disk_that_hangs_and_health_tells(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A lock held by another program makes the writer's thread wait up to a minute: the same as a disk that does not answer."""
    monkeypatch.setattr(writer_module, "HUNG_S", 0.02)
    path = tmp_path / "r.sqlite"
    book = writer(path, threaded=True, commit_s=1e6, busy_s=60.0)
    assert book.flush()
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        put(book, 0, *weigh(0))
        assert not book.flush(timeout_s=0.2)
        until(lambda: not book.health().ok, within_s=5.0, what="the thread waits for the lock with what it has taken")
        began = monotonic()
        for tick in range(1, 200):
            put(book, tick, air(tick), Commands(keep=True))
        assert monotonic() - began < 5.0
        health = book.health()
        assert (health.ok, health.buffered) == (False, 199)
        assert "does not answer" in health.why
        other.execute("ROLLBACK")
    assert book.flush(timeout_s=30.0)
    assert book.health().ok
    assert book.close()


def test_a_state_that_cannot_be_written_is_told_and_holds_nothing_else_up(tmp_path: Path) -> None:
    path = tmp_path / "r.sqlite"
    book = writer(path)
    put(book, 0, air(0))
    assert book.flush()
    book.put(1, stamp(1), air(1), Commands(), object())
    book.flush()
    health = book.health()
    assert not health.ok
    assert "cannot be kept" in health.why
    put(book, 2, air(2))
    assert book.flush()
    assert book.health().ok
    book.close()
    with closing(sqlite3.connect(path)) as conn:
        assert conn.execute("SELECT count(*) FROM reading").fetchone() == (3,)


def test_the_writer_is_alive_until_it_is_closed(tmp_path: Path) -> None:
    book = writer(tmp_path / "r.sqlite", threaded=True)
    assert book.alive()
    book.close()
    assert not book.alive()


def test_a_flush_of_a_closed_writer_says_no(tmp_path: Path) -> None:
    book = writer(tmp_path / "r.sqlite", threaded=True)
    book.close()
    put(book, 0, air(0))
    assert not book.flush(timeout_s=0.1)
