"""What ticks leave in the tables: switchings, clock anchors, spans, figures."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from itertools import pairwise
from pathlib import Path
from statistics import fmean
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlite_utils import Database

from dryward.core.commands import Commands
from dryward.core.inputs import NOTHING, Inputs, Reading
from dryward.record.rows import Tick
from dryward.record.schema import migrate
from dryward.record.ticks import TickWriter
from tests.record.scene import air, put, stamp, writer


def rows(path: Path, sql: str) -> list[Any]:
    with closing(sqlite3.connect(path)) as conn:
        return conn.execute(sql).fetchall()


def test_only_changes_of_outputs_are_written(tmp_path: Path) -> None:
    book = writer(tmp_path / "r.sqlite", commit_s=1e9)
    for tick, on in enumerate([{"fan"}, {"fan"}, {"fan", "heater"}, {"fan", "heater"}, {"fan"}, set()]):
        put(book, tick, commands=Commands(on=frozenset(on)))
    book.close()
    assert rows(tmp_path / "r.sqlite", "SELECT tick, output, is_on FROM output_change") == [
        (0, "fan", 1),
        (2, "heater", 1),
        (4, "heater", 0),
        (5, "fan", 0),
    ]


def test_the_wall_clock_is_noted_every_minute_and_whenever_it_is_set(tmp_path: Path) -> None:
    book = writer(tmp_path / "r.sqlite", commit_s=1e9)
    for tick in range(200):
        book.put(
            tick, stamp(tick, off_s=0.2 if tick % 2 else 0.0 if tick < 100 else 3600.0), air(tick), Commands(), None
        )
    book.close()
    ticks = [tick for (tick,) in rows(tmp_path / "r.sqlite", "SELECT tick FROM clock ORDER BY tick")]
    assert {0, 60, 100} <= set(ticks)
    assert all(later - tick <= 60 for tick, later in pairwise(ticks))


@settings(max_examples=40, deadline=None)
@given(st.lists(st.none() | st.floats(-50.0, 150.0), min_size=1, max_size=40), st.integers(1, 40), st.integers(1, 200))
def test_spans_are_the_low_mean_and_high_of_their_readings_however_the_commits_fall(
    values: list[float | None], bite: int, gap: int
) -> None:
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as conn:
        migrate(Database(conn))
        book = TickWriter(period_s=1.0)
        items = [
            Tick(
                i * gap,
                stamp(i * gap),
                Inputs(readings=(Reading("air", v, 0.0, "" if v is not None else "crc"),)),
                Commands(),
            )
            for i, v in enumerate(values)
        ]
        for start in range(0, len(items), bite):
            book.write(conn, items[start : start + bite], 1)
        found = conn.execute(
            "SELECT from_tick, n, failed, low, total / nullif(n, 0), high FROM span ORDER BY 1"
        ).fetchall()
    groups: dict[int, list[float | None]] = {}
    for item, value in zip(items, values, strict=True):
        groups.setdefault(item.tick // 300 * 300, []).append(value)
    assert [f[0] for f in found] == sorted(groups)
    for from_tick, n, failed, low, mean, high in found:
        good = [v for v in groups[from_tick] if v is not None]
        assert (n, failed, low, high) == (
            len(good),
            len(groups[from_tick]) - len(good),
            min(good, default=None),
            max(good, default=None),
        )
        assert mean == (pytest.approx(fmean(good), abs=1e-9) if good else None)


def test_a_figure_is_written_only_when_it_changed(tmp_path: Path) -> None:
    book = writer(tmp_path / "r.sqlite", commit_s=1e9)
    for tick, value in enumerate([1.0, 1.0, 2.0, 2.0, 1.0]):
        put(book, tick, figures={"x": value})
    book.close()
    assert rows(tmp_path / "r.sqlite", "SELECT tick, value FROM figure") == [(0, 1.0), (2, 2.0), (4, 1.0)]


def test_more_readings_than_a_tick_can_number_are_refused_in_words() -> None:
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as conn:
        migrate(Database(conn))
        many = Tick(1, stamp(1), Inputs(readings=(Reading("air", 1.0, 0.0),) * 4097), Commands())
        with pytest.raises(ValueError, match="4097 readings in one tick, at most 4096 fit"):
            TickWriter(period_s=1.0).write(conn, (many,), 1)
        TickWriter(period_s=1.0).write(conn, (Tick(2, stamp(2), NOTHING, Commands()),), 1)
        assert conn.execute("SELECT count(*) FROM reading").fetchone() == (0,)
