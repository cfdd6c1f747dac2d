"""The book of calibrations: only ever added to, readable past damage."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from dryward.doors.calibration_book import Book, Entry, points_of, utc_now
from dryward.science.calibration import Point

NOW = datetime(2031, 4, 2, 12, 0, tzinfo=UTC)


def entry(line: Any, *, hours_ago: float = 0.0, name: str = "hook-1", **more: Any) -> Entry:
    utc = (NOW - timedelta(hours=hours_ago)).isoformat(timespec="seconds")
    return Entry(line=line, utc=utc, who="anna", kind="scale", name=name, device="cell-1", **more)


def written(tmp_path: Path, *entries: Entry) -> Book:
    book = Book(tmp_path / "record.db")
    for one in entries:
        book.add(one)
    return Book(tmp_path / "record.db")


def test_what_was_added_is_read_again(tmp_path: Path) -> None:
    entries = [
        entry("point", reference=500.0, shown=58000.0, spread=1.5, note="é"),
        entry("result", calibration="c", values={"g_per_count": 0.01}),
    ]
    book = written(tmp_path, *entries)
    assert book.entries == entries
    assert book.path.name == "record.calibrations.jsonl"


def test_points_are_open_until_a_result_and_not_after_a_day(tmp_path: Path) -> None:
    book = written(
        tmp_path,
        entry("point", hours_ago=30, reference=1.0, shown=1.0),
        entry("point", hours_ago=20, reference=2.0, shown=2.0),
        entry("point", hours_ago=1, name="hook-2", reference=9.0, shown=9.0),
    )
    assert points_of(book.open_points("scale", "hook-1", NOW)) == [Point(2.0, 2.0)]
    book.add(entry("result", hours_ago=0.5, calibration="c"))
    assert book.open_points("scale", "hook-1", NOW) == []
    assert points_of(book.open_points("scale", "hook-2", NOW)) == [Point(9.0, 9.0)]
    book.add(entry("point", reference=3.0, shown=3.0))
    book.add(entry("dropped"))
    assert book.open_points("scale", "hook-1", NOW) == []


def test_damaged_lines_are_passed_over_and_counted(tmp_path: Path) -> None:
    book = written(tmp_path, entry("result", calibration="a"))
    with book.path.open("a") as file:
        file.write('half a li\n{"line": "result"}\n[1, 2]\n' + "null\n")
    book.add(entry("result", calibration="b"))
    again = Book(tmp_path / "record.db")
    assert [e.calibration for e in again.results()] == ["a", "b"]
    assert again.unreadable == 4


def test_every_calibration_has_a_name_of_its_own(tmp_path: Path) -> None:
    book = written(tmp_path)
    for expected in ("hook-1-20310402", "hook-1-20310402-2", "hook-1-20310402-3"):
        name = book.new_name("hook-1", NOW)
        assert name == expected
        book.add(entry("result", calibration=name))
        assert book.found(name) is not None
    assert book.found("other") is None


def test_only_the_newest_calibration_of_a_scale_can_be_old(tmp_path: Path) -> None:
    day = 24.0
    book = written(
        tmp_path,
        entry("result", hours_ago=200 * day, calibration="a"),
        entry("result", hours_ago=100 * day, calibration="b"),
    )
    (told,) = book.old(NOW)
    assert told[0] == "hook-1"
    assert told[1] == "calibration b of hook-1: 100 days old, 90 is as old as it should get"
    assert told[2] == "Do it again with 'dryward calibrate scale hook-1'."
    (then,) = book.old(NOW - timedelta(days=101))
    assert "calibration a of hook-1: 99 days old" in then[1]
    book.add(entry("result", hours_ago=80 * day, calibration="c"))
    assert book.old(NOW) == []
    assert [e.calibration for e in book.latest(NOW)] == ["c"]


def test_a_book_that_cannot_be_written_says_so(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(OSError, match="file"):
        Book(tmp_path / "file" / "record.db").add(entry("point"))


def test_now_is_in_utc() -> None:
    assert utc_now().utcoffset() == timedelta(0)
