"""What is entered when the daemon starts."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing

import pytest
from sqlite_utils import Database

from dryward.core.chamber import Chamber
from dryward.record.checkpoint import from_json
from dryward.record.moments import ScaleCalibration
from dryward.record.schema import migrate
from dryward.record.sessions import Beginning, begin_session, is_last_session, last_tick_of
from tests.record.scene import CHAMBER, ToyState, began, session, stamp


@pytest.fixture
def conn() -> Iterator[sqlite3.Connection]:
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as opened:
        migrate(Database(opened))
        yield opened


def test_a_session_holds_the_whole_chamber_and_the_state_it_went_on_with(conn: sqlite3.Connection) -> None:
    number = begin_session(conn, session(first_tick=50), Beginning(50, stamp(50), ToyState(49), None))
    row = conn.execute(
        "SELECT boot_id, version, period_s, first_tick, begun_utc, start_state, closed FROM session"
    ).fetchone()
    assert row == ("boot-1", "0", 1.0, 50, "2025-10-09T08:54:10.000Z", '{"tick":49,"trips":[],"seen":{}}', 0)
    assert from_json(Chamber, conn.execute("SELECT chamber FROM session").fetchone()[0]) == CHAMBER
    assert last_tick_of(conn, number) == 49


def test_outputs_left_on_by_a_killed_session_count_as_off_from_its_last_tick(conn: sqlite3.Connection) -> None:
    first = begin_session(conn, session(), Beginning(0, stamp(0), None, None))
    conn.executemany(
        "INSERT INTO output_change VALUES (?,?,?)", [(1, "heater", 1), (2, "fan", 1), (3, "heater", 0), (4, "lamp", 1)]
    )
    conn.execute("UPDATE session SET last_tick = 9 WHERE session_id = ?", (first,))
    begin_session(conn, session(first_tick=20), Beginning(20, stamp(20), None, None))
    assert conn.execute("SELECT tick, output FROM output_change WHERE is_on = 0 ORDER BY 1, 2").fetchall() == [
        (3, "heater"),
        (10, "fan"),
        (10, "lamp"),
    ]


def test_the_run_under_way_is_entered_at_the_tick_and_hour_it_began(conn: sqlite3.Connection) -> None:
    begin_session(conn, session(first_tick=100), Beginning(100, stamp(100), ToyState(99), (40, began()), "old.sqlite"))
    assert conn.execute("SELECT run_id, start_tick, start_utc FROM run").fetchall() == [
        ("r1", 40, "2025-10-09T08:54:00.000Z")
    ]
    assert conn.execute("SELECT carried_from FROM session").fetchone() == ("old.sqlite",)


def test_a_file_is_known_again_only_by_its_last_session(conn: sqlite3.Connection) -> None:
    assert not is_last_session(conn, 0, session(), 0)
    number = begin_session(conn, session(), Beginning(0, stamp(0), None, None))
    assert is_last_session(conn, number, session(), 0)
    assert not is_last_session(conn, number, session(), 7)


def test_what_a_count_weighed_is_entered_with_each_session(conn: sqlite3.Connection) -> None:
    cell = ScaleCalibration(scale="hook", calibration="hook-1", zero_count=-8000.5, g_per_count=0.01)
    for first_tick in (0, 50):
        begin_session(
            conn,
            session(first_tick=first_tick, scale_calibrations=(cell,)),
            Beginning(first_tick, stamp(first_tick), None, None),
        )
    rows = conn.execute("SELECT scale, calibration, zero_count, g_per_count FROM scale_calibration").fetchall()
    assert rows == [("hook", "hook-1", -8000.5, 0.01)] * 2
