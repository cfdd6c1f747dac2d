"""Enters a session (one start of the daemon) into the file: its chamber, its first state, the run it is in the middle of."""

from __future__ import annotations

from sqlite3 import Connection
from typing import NamedTuple

from dryward.record.checkpoint import to_json
from dryward.record.marks import write_mark
from dryward.record.moments import RunBegan, Session, Stamp, utc_text
from dryward.record.names import enter_channels
from dryward.record.rows import tidy


class Beginning(NamedTuple):
    """Where a session begins in this file: the daemon's start, or later when the file before was set aside."""

    first_tick: int
    stamp: Stamp
    start_state: object | None
    live_run: tuple[int, RunBegan] | None
    carried_from: str = ""


def begin_session(conn: Connection, session: Session, at: Beginning) -> int:
    """Enter a session and return its number."""
    chamber = session.chamber
    _switch_off(conn)
    cursor = conn.execute(
        "INSERT INTO session (boot_id, version, chamber_name, chamber, period_s, first_tick, last_tick, begun_utc,"
        " clock_synchronised, start_state, carried_from) VALUES (?,?,?,?,?,?,?,?,?,?,?)",
        (
            session.boot_id, session.version, chamber.name, tidy(to_json(chamber)), chamber.period_s, at.first_tick, at.first_tick - 1,
            utc_text(at.stamp.utc_s), int(at.stamp.synchronised), None if at.start_state is None else tidy(to_json(at.start_state)), at.carried_from,
        ),
    )  # fmt: skip
    session_id = int(cursor.lastrowid or 0)
    enter_channels(conn, chamber)
    conn.executemany(
        "INSERT INTO scale_calibration VALUES (?,?,?,?,?)",
        [
            (session_id, tidy(c.scale), tidy(c.calibration), c.zero_count, c.g_per_count)
            for c in session.scale_calibrations
        ],
    )
    if at.live_run is not None:
        tick, mark = at.live_run
        write_mark(conn, mark, tick, utc_text(at.stamp.utc_s - (at.first_tick - tick) * chamber.period_s), session_id)
    return session_id


def is_last_session(conn: Connection, session_id: int, session: Session, first_tick: int) -> bool:
    """Tell whether this is the file in which the session was begun (an inode number would be used again)."""
    row = conn.execute("SELECT boot_id, first_tick FROM session ORDER BY session_id DESC LIMIT 1").fetchone()
    return session_id > 0 and row == (session.boot_id, first_tick)


def last_tick_of(conn: Connection, session_id: int) -> int:
    """Return the last tick of a session that is in the file."""
    return int(conn.execute("SELECT last_tick FROM session WHERE session_id = ?", (session_id,)).fetchone()[0])


def _switch_off(conn: Connection) -> None:
    """Note that the keeper dropped all outputs when the session before ended, just after its last tick."""
    still_on = conn.execute(
        "SELECT max(c.tick, (SELECT coalesce(max(last_tick), 0) FROM session)), c.output FROM output_change AS c WHERE c.is_on = 1"
        " AND NOT EXISTS (SELECT 1 FROM output_change AS d WHERE d.output = c.output AND d.tick > c.tick)"
    ).fetchall()
    conn.executemany(
        "INSERT OR REPLACE INTO output_change VALUES (?,?,0)",
        [(last_tick + 1, output) for last_tick, output in still_on],
    )
