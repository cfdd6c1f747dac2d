"""Reading beside the writer."""

from __future__ import annotations

import shutil
import sqlite3
import threading
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dryward.core.commands import Commands
from dryward.core.inputs import Inputs, Reading, Weighing
from dryward.record.lines import NoSuchRun
from dryward.record.moments import ScaleCalibration
from dryward.record.queries import Record, open_readonly
from tests.record.scene import air, began, ended, event, put, weigh, writer


def test_two_readers_see_a_growing_whole_record_while_the_writer_writes(tmp_path: Path) -> None:
    path = tmp_path / "r.sqlite"
    book = writer(path, threaded=True, commit_s=0.001)
    put(book, 0, marks=[began()])
    assert book.flush()
    wrong: list[str] = []
    done = threading.Event()

    def look() -> None:
        seen = -1
        with Record(path) as record:
            while not done.is_set():
                now = len(record.readings("r1", "air"))
                found = [t for t, i in record.inputs("r1") if i.readings]
                if now < seen or found != list(range(1, len(found) + 1)):
                    wrong.append(f"{seen} readings, then {now}; ticks {found[:3]}...{found[-3:]}")
                seen = now

    readers = [threading.Thread(target=look) for _ in range(2)]
    for reader in readers:
        reader.start()
    for tick in range(1, 1500):
        put(book, tick, air(tick), Commands(keep=tick % 50 == 0))
        if tick % 100 == 0:
            book.flush()
    done.set()
    for reader in readers:
        reader.join()
    health = book.health()
    assert book.close()
    assert wrong == []
    assert (health.ok, health.dropped) == (True, 0)


def test_readings_events_weighings_and_figures_of_a_run_only(tmp_path: Path) -> None:
    book = writer(tmp_path / "r.sqlite")
    put(book, 0, air(0))
    put(
        book,
        1,
        Inputs(
            readings=(Reading("air", 51.5, 0.5), Reading("hook", None, 0.6, "no answer"), Reading("air", 52.0, 0.9))
        ),
        marks=[began()],
    )
    put(book, 2, *weigh(2), figures={"duty": 0.5, "air_setpoint_c": 50.0})
    put(
        book,
        3,
        Inputs(weighings=(Weighing("loin-b", 700.0, 2.5),)),
        Commands(on=frozenset({"fan"}), events=(event("one"), event("two", value=3.5))),
        figures={"duty": 0.5},
    )
    put(book, 4, marks=[ended()], figures={"duty": 0.25, "fan_operations": 3.0})
    put(book, 5, air(5), Commands(events=(event("after"),)))
    book.close()
    with Record(tmp_path / "r.sqlite") as record:
        assert [tuple(r) for r in record.readings("r1", "air")] == [(1, 0.5, 51.5, ""), (1, 0.9, 52.0, "")]
        assert [tuple(r) for r in record.readings("r1", "hook")] == [(1, 0.6, None, "no answer")]
        assert [(e.event.text, e.event.value) for e in record.events("r1")] == [("one", None), ("two", 3.5)]
        assert [tuple(w) for w in record.weighings("r1")] == [
            (2, "loin-a", 900.0, "ann", "weigh"),
            (3, "loin-b", 700.0, "recording", "weighing"),
        ]
        assert [tuple(f) for f in record.figures("r1")] == [
            (2, "duty", 0.5),
            (2, "air_setpoint_c", 50.0),
            (4, "duty", 0.25),
            (4, "fan_operations", 3.0),
        ]
        assert [f.tick for f in record.figures("r1", "duty")] == [2, 4]
        assert record.totals("r1") == {"fan_operations": 3.0}
        assert record.output_changes("r1") == [(3, "fan", True), (4, "fan", False)]
        span = record.spans("r1", "air")[0]
        assert (span.n, span.failed, span.low, span.high) == (4, 0, 50.25, 52.0)
        assert [s.failed for s in record.spans("r1", "hook")] == [1]


def test_a_refused_weigh_in_is_no_weighing(tmp_path: Path) -> None:
    told, decided = weigh(1)
    refused = Commands(
        replies=tuple(type(r)(request_id=r.request_id, accepted=False, text="no") for r in decided.replies)
    )
    book = writer(tmp_path / "r.sqlite")
    put(book, 0, marks=[began()])
    put(book, 1, told, refused)
    book.close()
    with Record(tmp_path / "r.sqlite") as record:
        assert record.weighings("r1") == []
        answer = record.reply_to("q1")
        assert answer is not None
        assert not answer.accepted
        assert record.reply_to("q2") is None


def test_a_refused_weight_that_is_no_json_leaves_the_others_readable(tmp_path: Path) -> None:
    told, decided = weigh(1, weight_g=float("inf"))
    refused = Commands(
        replies=tuple(type(r)(request_id=r.request_id, accepted=False, text="no") for r in decided.replies)
    )
    book = writer(tmp_path / "r.sqlite")
    put(book, 0, marks=[began()])
    put(book, 1, told, refused)
    put(book, 2, *weigh(2))
    book.close()
    with Record(tmp_path / "r.sqlite") as record:
        assert [tuple(w) for w in record.weighings("r1")] == [(2, "loin-a", 900.0, "ann", "weigh")]


def test_an_unknown_run_is_named_with_those_there_are(tmp_path: Path) -> None:
    book = writer(tmp_path / "r.sqlite")
    put(book, 0, marks=[began("first-try")])
    book.close()
    with Record(tmp_path / "r.sqlite") as record:
        for ask in (record.run, record.events, record.weighings, record.stretches):
            with pytest.raises(NoSuchRun, match=r"no run 'nine' in .*r\.sqlite; the newest are: first-try"):
                ask("nine")


def test_a_run_without_an_end_stops_where_the_next_began(tmp_path: Path) -> None:
    book = writer(tmp_path / "r.sqlite")
    put(book, 0, air(0), marks=[began("r1")])
    put(book, 5, air(5))
    put(book, 9, air(9), marks=[began("r2")])
    put(book, 12, air(12))
    book.close()
    with Record(tmp_path / "r.sqlite") as record:
        assert [(r.run_id, record.run(r.run_id).last_tick) for r in record.runs()] == [("r2", 12), ("r1", 8)]
        assert len(record.readings("r1", "air")) == 2


def test_the_views_count_a_run_cut_off_like_the_program_does(tmp_path: Path) -> None:
    """Over a restart to what is known last, but not into the next run; each event belongs to one run."""
    path = tmp_path / "r.sqlite"
    for first, last in ((0, 3600), (3700, 7200)):
        book = writer(path, first_tick=first)
        put(book, first, air(first), marks=() if first else (began("r1"),))
        put(book, last, air(last))
        book.close()
    with closing(sqlite3.connect(path)) as conn:
        assert conn.execute("SELECT run_id, hours FROM run_summary").fetchall() == [("r1", 2.0)]
    book = writer(path, first_tick=7201)
    put(book, 7201, air(7201), marks=(began("r2"),))
    put(book, 10801, air(10801), Commands(events=(event("The fan stands.", severity="trip"),)))
    book.close()
    with closing(sqlite3.connect(path)) as conn:
        hours = conn.execute("SELECT run_id, hours, trips FROM run_summary ORDER BY run_id").fetchall()
        assert conn.execute("SELECT run_id FROM event_text").fetchall() == [("r2",)]
    assert hours == [("r1", 2.0, 0), ("r2", 1.0, 1)]
    with Record(path) as record:
        for run_id, length, _ in hours:
            run = record.run(run_id)
            assert (run.last_tick - run.start_tick) * run.period_s / 3600.0 == length


def test_no_file_is_said_plainly(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError, match="has the daemon run here yet"):
        open_readonly(tmp_path / "none.sqlite")


def test_a_reader_cannot_write(tmp_path: Path) -> None:
    writer(tmp_path / "r.sqlite").close()
    conn = open_readonly(tmp_path / "r.sqlite")
    with pytest.raises(Exception, match="readonly"):
        conn.execute("DELETE FROM session")
    conn.close()


def test_reading_a_record_that_nobody_writes_leaves_nothing_behind(tmp_path: Path) -> None:
    """A log left by a reader of another user would lock the daemon out of its own record."""
    book = writer(tmp_path / "r.sqlite")
    put(book, 0, air(0))
    book.close()
    with Record(tmp_path / "r.sqlite") as record:
        assert record.last_tick() == 0
    assert [p.name for p in tmp_path.iterdir()] == ["r.sqlite"]


def test_what_a_killed_writer_left_in_its_log_is_read_too(tmp_path: Path) -> None:
    book = writer(tmp_path / "r.sqlite", commit_s=0.0)
    put(book, 0, air(0))
    for ending in ("", "-wal"):
        shutil.copy(tmp_path / f"r.sqlite{ending}", tmp_path / f"left.sqlite{ending}")
    book.close()
    assert (tmp_path / "left.sqlite-wal").stat().st_size > 0
    with Record(tmp_path / "left.sqlite") as record:
        assert record.last_tick() == 0


CELL = ScaleCalibration(scale="hook", calibration="hook-1", zero_count=-8123.25, g_per_count=-0.00971)


@settings(max_examples=300)
@given(
    zero=st.floats(-8_388_608.0, 8_388_607.0),
    per_count=st.floats(1e-6, 1000.0) | st.floats(-1000.0, -1e-6),
    count=st.integers(-8_388_607, 8_388_606),
)
def test_a_weight_gives_its_raw_count_back_exactly(zero: float, per_count: float, count: int) -> None:
    cell = ScaleCalibration(scale="hook", calibration="", zero_count=zero, g_per_count=per_count)
    assert cell.counts((float(count) - zero) * per_count) == count


def test_raw_counts_come_with_the_calibration_of_their_own_session(tmp_path: Path) -> None:
    path = tmp_path / "r.sqlite"
    newer = replace(CELL, calibration="hook-2", zero_count=100.0, g_per_count=0.02)
    weighed = [(3, CELL, -8_388_607), (4, CELL, 77), (9, newer, 8_388_606)]
    book = writer(path, scale_calibrations=(CELL,))
    put(book, 0, air(0), marks=[began()])
    for tick, cell, count in weighed[:2]:
        put(book, tick, scales_reading(tick, cell, count))
    book.close()
    book = writer(path, first_tick=9, scale_calibrations=(newer,))
    put(book, 9, scales_reading(9, newer, weighed[2][2]))
    put(book, 10, Inputs(readings=(Reading("hook", None, 10.0, "no answer"),)), marks=[ended()])
    book.close()
    writer(path, first_tick=20, scale_calibrations=(replace(CELL, calibration="after-the-run"),)).close()
    with Record(path) as record:
        found = record.raw_counts("r1", "hook")
        assert [(tick, counts, name) for tick, counts, _, name in found] == [
            (tick, count, cell.calibration) for tick, cell, count in weighed
        ]
        assert record.raw_counts("r1", "air") == []
        assert record.scale_calibrations("r1") == [(0, CELL), (9, newer)]


def scales_reading(tick: int, cell: ScaleCalibration, count: int) -> Inputs:
    return Inputs(readings=(Reading("hook", (count - cell.zero_count) * cell.g_per_count, float(tick)),))


def test_a_file_of_an_earlier_schema_has_no_raw_counts_and_is_read_all_the_same(tmp_path: Path) -> None:
    path = tmp_path / "r.sqlite"
    book = writer(path, scale_calibrations=(CELL,))
    put(book, 0, air(0), marks=[began()])
    book.close()
    with closing(sqlite3.connect(path)) as conn:
        conn.executescript("DROP VIEW raw_count; DROP TABLE scale_calibration; PRAGMA user_version = 1;")
    with Record(path) as record:
        assert record.raw_counts("r1", "hook") == []
        assert record.scale_calibrations("r1") == []


def test_a_figure_holds_from_when_it_was_told(tmp_path: Path) -> None:
    book = writer(tmp_path / "r.sqlite")
    put(book, 0, marks=[began()], figures={"energy_kwh": 1.0})
    put(book, 50, figures={"energy_kwh": 2.0})
    put(book, 90)
    assert book.close()
    with Record(tmp_path / "r.sqlite") as record:
        assert [record.figure_at("energy_kwh", 0, tick) for tick in (49, 50, 90)] == [(0, 1.0), (50, 2.0), (50, 2.0)]
        assert record.figure_at("energy_kwh", 10, 49) is None
        assert record.figure_at("never_told", 0, 90) is None
