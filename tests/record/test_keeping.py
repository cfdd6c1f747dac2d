"""Backups that can be trusted, a restore that loses nothing, a forecast that is right, thinning that keeps the means."""

from __future__ import annotations

import shutil
import sqlite3
from collections import namedtuple
from contextlib import closing
from pathlib import Path

import pytest

from dryward.core.commands import Commands
from dryward.core.inputs import Inputs, Reading
from dryward.record.keeping import KeepingError, back_up, backups, check, copy_off, forecast, restore
from dryward.record.queries import Record
from dryward.record.schema import newest
from tests.record.old_schema import FOLDER, from_sql
from tests.record.scene import UTC_S, air, began, ended, put, stamp, weigh, writer

Usage = namedtuple("Usage", "total used free")


def a_record(path: Path, ticks: int = 20) -> None:
    book = writer(path)
    put(book, 0, air(0), marks=[began()])
    for tick in range(1, ticks):
        put(book, tick, air(tick))
    put(book, ticks, *weigh(ticks), marks=[ended()])
    book.close()


def test_a_backup_made_while_the_writer_writes_is_whole_and_has_everything_committed(tmp_path: Path) -> None:
    path = tmp_path / "r.sqlite"
    book = writer(path, threaded=True, commit_s=0.001)
    put(book, 0, marks=[began()])
    for tick in range(1, 300):
        put(book, tick, air(tick))
    assert book.flush()
    copy = back_up(path, tmp_path / "backups", at_utc_s=UTC_S)
    put(book, 300, air(300))
    assert book.close()
    assert copy.name == "r-20251009T085320Z.sqlite"
    assert check(copy) == newest()
    with Record(copy) as record:
        assert len(record.readings("r1", "air")) == 299
        assert record.latest_checkpoint() is not None


def test_only_the_newest_backups_are_kept_and_nothing_else_is_touched(tmp_path: Path) -> None:
    a_record(tmp_path / "r.sqlite")
    folder = tmp_path / "backups"
    folder.mkdir()
    (folder / "r-holiday.sqlite").write_text("mine")
    for day in range(5):
        back_up(tmp_path / "r.sqlite", folder, at_utc_s=UTC_S + day * 86400.0, keep=3)
    assert [b.name for b in backups(folder, tmp_path / "r.sqlite")] == [
        f"r-202510{d}T085320Z.sqlite" for d in (11, 12, 13)
    ]
    assert (folder / "r-holiday.sqlite").read_text() == "mine"


def test_no_room_leaves_no_half_backup_and_says_what_is_needed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    a_record(tmp_path / "r.sqlite")
    monkeypatch.setattr(shutil, "disk_usage", lambda _: Usage(10, 10, 1000))
    with pytest.raises(KeepingError, match=r"it needs 0\.\d MB .* make room or choose another disk"):
        back_up(tmp_path / "r.sqlite", tmp_path / "backups", at_utc_s=UTC_S)
    assert list((tmp_path / "backups").iterdir()) == []


def test_a_copy_on_another_disk_is_checked_and_a_missing_disk_is_named(tmp_path: Path) -> None:
    a_record(tmp_path / "r.sqlite")
    backup = back_up(tmp_path / "r.sqlite", tmp_path / "backups", at_utc_s=UTC_S)
    with pytest.raises(KeepingError, match="is the disk plugged in and mounted"):
        copy_off(backup, tmp_path / "stick")
    (tmp_path / "stick").mkdir()
    assert copy_off(backup, tmp_path / "stick").read_bytes() == backup.read_bytes()


def test_restore_puts_the_backup_in_place_and_sets_the_present_record_aside(tmp_path: Path) -> None:
    path = tmp_path / "r.sqlite"
    a_record(path)
    backup = back_up(path, tmp_path / "backups", at_utc_s=UTC_S)
    book = writer(path, first_tick=100)
    put(book, 100, air(100))
    book.close()
    aside = restore(backup, path, at_utc_s=UTC_S)
    assert aside is not None
    with Record(path) as now, Record(aside) as before:
        assert (now.last_tick(), before.last_tick()) == (20, 100)
    book = writer(path, first_tick=200)  # and it can be written on
    put(book, 200, *weigh(200))
    assert book.close()
    with closing(sqlite3.connect(path)) as conn:
        assert conn.execute("SELECT count(*) FROM weigh_in").fetchone() == (2,)


@pytest.mark.parametrize("harm", ["damaged", "something else", "newer"])
def test_a_bad_backup_is_refused_and_nothing_changes(tmp_path: Path, harm: str) -> None:
    path = tmp_path / "r.sqlite"
    a_record(path, 3000)
    backup = back_up(path, tmp_path / "backups", at_utc_s=UTC_S)
    if harm == "damaged":
        content = bytearray(backup.read_bytes())
        content[len(content) // 2 : len(content) // 2 + 4096] = b"\x13" * 4096
        backup.write_bytes(bytes(content))
    else:
        with closing(sqlite3.connect(backup)) as conn:
            conn.execute("DROP TABLE reading" if harm == "something else" else f"PRAGMA user_version = {newest() + 1}")
    before = path.read_bytes()
    with pytest.raises(KeepingError):
        restore(backup, path, at_utc_s=UTC_S)
    assert path.read_bytes() == before
    assert sorted(p.name for p in tmp_path.iterdir()) == ["backups", "r.sqlite"]


def test_the_forecast_is_the_average_of_the_time_recorded(tmp_path: Path) -> None:
    """Two hours of ten readings every ten ticks of one second, so 7200 s of record in the file that there is."""
    path = tmp_path / "r.sqlite"
    book = writer(path, commit_s=1e9)
    for tick in range(0, 7200, 10):
        book.put(
            tick,
            stamp(tick),
            Inputs(readings=tuple(Reading("air", tick / 7.0, tick - 0.3) for _ in range(10))),
            Commands(),
            None,
        )
    book.put(7199, stamp(7199), Inputs(), Commands(), None)
    book.close()
    found = forecast(path)
    assert found.size == path.stat().st_size
    assert found.per_day == pytest.approx(path.stat().st_size * 12, rel=0.001)
    assert found.days_left == pytest.approx(found.free / found.per_day, rel=0.01)


def test_a_young_record_has_no_forecast_yet(tmp_path: Path) -> None:
    a_record(tmp_path / "r.sqlite")
    assert forecast(tmp_path / "r.sqlite").per_day is None


def test_thinning_removes_old_readings_and_keeps_their_means_and_all_the_rest(tmp_path: Path) -> None:
    path = tmp_path / "r.sqlite"
    a_record(path, 12_000)
    with Record(path) as record:
        spans, weighings = record.spans("r1", "air"), record.weighings("r1")
        assert not record.thinned("r1")
    book = writer(path, first_tick=12_500)
    book.thin(11_000)
    put(book, 12_500, air(12_500))
    assert book.close()
    with Record(path) as record:
        assert [r.tick for r in record.readings("r1", "air")] == list(range(11_000, 12_000))
        assert (record.spans("r1", "air"), record.weighings("r1")) == (spans, weighings)
        assert record.thinned("r1")
        assert record.lost("r1") == 0


def test_thinning_by_the_thread_goes_in_bites_and_delays_no_weighing(tmp_path: Path) -> None:
    path = tmp_path / "r.sqlite"
    a_record(path, 12_000)
    book = writer(path, first_tick=12_500, threaded=True, commit_s=0.001)
    book.thin(12_000)
    put(book, 12_500, *weigh(12_500))
    assert book.flush()
    for tick in range(12_501, 12_600):
        put(book, tick, air(tick))
        if tick % 10 == 0:
            book.flush()
    assert book.close()
    with closing(sqlite3.connect(path)) as conn:
        assert conn.execute("SELECT min(tick), count(*) FROM reading").fetchone() == (12_501, 99)


def test_a_wall_time_finds_its_tick(tmp_path: Path) -> None:
    a_record(tmp_path / "r.sqlite", 200)
    with Record(tmp_path / "r.sqlite") as record:
        assert record.tick_at(UTC_S - 1.0) is None
        assert record.tick_at(UTC_S + 150.0) == 150


@pytest.mark.parametrize("number", range(1, newest() + 1))
def test_a_record_that_had_to_give_up_readings_is_backed_up_and_restored(tmp_path: Path, number: int) -> None:
    """SQLite 3.40 took that for damage in schema 1 (sql/0002.sql); a backup of that time must still be believed."""
    old = tmp_path / "old.sqlite"
    from_sql((FOLDER / f"{number:04d}.sql").read_text(encoding="utf-8"), old)
    restore(old, tmp_path / "r.sqlite", at_utc_s=UTC_S)
    assert check(back_up(tmp_path / "r.sqlite", tmp_path / "backups", at_utc_s=UTC_S)) == number
    with Record(tmp_path / "r.sqlite") as record:
        assert record.lost("r2") == 0
        assert [r.run_id for r in record.runs()] == ["r2", "r1"]
