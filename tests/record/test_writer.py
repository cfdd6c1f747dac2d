"""The writer never stands in the way, and what it acknowledged is durable."""

from __future__ import annotations

import sqlite3
import threading
from pathlib import Path

from tests.record.scene import air, event, put, weigh, writer

from dryward.core.commands import Commands
from dryward.record.queries import Record


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
