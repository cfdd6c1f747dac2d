"""The file: opened, brought up to date, set aside when it is damaged, and one batch of ticks written in one transaction.

A sync that fails leaves a transaction in doubt: SQLite reports it as not done, yet after a reopening it may be there, and
the kernel may believe pages clean that never reached the disk. So after any failure the file is opened anew, its log is
moved into the file and emptied before anything is added to it, and what turns out to be there is not written again.
"""

from __future__ import annotations

import contextlib
import sqlite3
from collections import defaultdict
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from sqlite_utils import Database

from dryward.record import past
from dryward.record.checkpoint import to_json
from dryward.record.damage import is_damaged, move_aside
from dryward.record.marks import write_mark
from dryward.record.moments import RunBegan, RunEnded, Session, Stamp, utc_text
from dryward.record.names import Names, enter_channels
from dryward.record.rows import INSERT, SEQ_BITS, Tick, rare_rows, tidy
from dryward.record.schema import SPAN_S, THINNED, NewerSchema, migrate

Lost = tuple[int, int, int, str]
"""First tick, last tick, number of readings that could not be kept, why."""

Newest = tuple[int, Stamp, object]
"""The last tick, its clocks, and the engine's state after it."""

UNFIT = (sqlite3.IntegrityError, sqlite3.ProgrammingError, sqlite3.InterfaceError, sqlite3.DataError, ValueError, TypeError, OverflowError)
"""What an entry that does not fit the tables raises; everything else is the disk's or the file's fault."""

BITE = 5000  # readings deleted at a time when thinning: short enough that the next commit does not wait
ANCHOR_S = 60.0  # a clock anchor so often (chamber time) ...
STEP_S = 0.5  # ... and whenever the wall clock is this far from where the last anchor puts it


class Store:
    """One writing connection. Every error of SQLite or the file system comes out of ``write``; it may then be called again."""

    def __init__(self, path: Path, session: Session, *, busy_s: float) -> None:
        self.path = path
        self.session = session
        self.set_aside: Path | None = None
        self.refused = 0
        self.no_state = ""  # why the newest state could not be kept
        self._busy_s = busy_s
        self._db: Database | None = None
        self._inode = -1
        self._in_doubt = False
        self._damaged = 0  # attempts in a row that found the file damaged
        self._there = -1  # after a reopening: last tick that is in the file
        self._session_id = self._session_tick = 0
        self._began = (session.first_tick, session.stamp, session.start_state)
        self._live_run = session.live_run
        self._names = Names()
        self._figures: dict[str, float] = {}
        self._on: frozenset[str] = frozenset()
        self._anchor: tuple[int, float] | None = None
        self._slot = 0

    def write(self, batch: Sequence[Tick], newest: Newest | None, lost: Sequence[Lost]) -> None:
        """Make ``batch``, the newest state and the account of what was lost durable together, or raise and change nothing.

        A single entry that the tables will not take is put down in table ``refused`` and the rest is written.
        """
        state = self._state_text(newest)
        try:
            db = self._open()
            missing = [item for item in batch if item.tick > self._there]
            on, anchor = self._on, self._anchor
            try:
                with db.atomic():
                    self._write(db.conn, missing, newest, state, lost)
            except UNFIT:
                self._forget(on, anchor)
                with db.atomic():
                    self._write_one_by_one(db, missing)
                    self._write(db.conn, (), newest, state, lost)
        except BaseException as why:
            self._in_doubt = getattr(why, "sqlite_errorcode", None) != sqlite3.SQLITE_BUSY
            self.close()
            self._damaged = self._damaged + 1 if is_damaged(why) else 0
            if self._damaged == 2 or isinstance(why, NewerSchema):  # once may be a bad read
                self._damaged = 0
                self.set_aside = move_aside(self.path, at_utc_s=batch[-1].stamp.utc_s if batch else self._began[1].utc_s)
            raise
        self._there, self._damaged = -1, 0
        self._remember(batch, newest if state is not None else None)

    def _state_text(self, newest: Newest | None) -> str | None:
        """Return the state as text. One that cannot be written must not keep the readings from being written."""
        self.no_state = ""
        try:
            return None if newest is None else tidy(to_json(newest[2]))
        except Exception as why:
            self.no_state = f"the engine's state cannot be kept, a restart would begin afresh: {why}"
            return None

    def thin(self, before_tick: int) -> bool:
        """Delete one bite of the readings before ``before_tick``, whose spans stay. True: none is left."""
        db = self._open()
        with db.atomic():
            gone = db.conn.execute(
                "DELETE FROM reading WHERE reading_id IN (SELECT reading_id FROM reading WHERE reading_id < ? ORDER BY reading_id LIMIT ?)",
                (before_tick << SEQ_BITS, BITE),
            ).rowcount
            if gone:
                db.conn.execute(
                    "INSERT OR REPLACE INTO lost SELECT 0, min(?1, coalesce((SELECT min(reading_id) >> ?2 FROM reading), ?1)) - 1, 0, ?3",
                    (before_tick, SEQ_BITS, THINNED),
                )
        return gone < BITE

    def close(self, *, in_order: bool = False) -> None:
        """Close the connection; ``in_order`` notes that the session ended as it should."""
        db, self._db = self._db, None
        if db is not None:
            with contextlib.suppress(sqlite3.Error):
                if in_order:
                    db.conn.execute("UPDATE session SET closed = 1 WHERE session_id = ?", (self._session_id,))
            with contextlib.suppress(sqlite3.Error):
                db.conn.close()

    # ---- opening

    def _open(self) -> Database:
        if self._db is not None and _inode(self.path) == self._inode:
            return self._db
        self.close()  # the file was moved or deleted under us: begin another
        self.path.parent.mkdir(parents=True, exist_ok=True)
        conn = sqlite3.connect(self.path, timeout=self._busy_s, isolation_level=None, check_same_thread=False)
        db = Database(conn)
        try:
            conn.execute("PRAGMA journal_mode = WAL")
            conn.execute("PRAGMA synchronous = FULL")  # NORMAL loses acknowledged commits at power loss
            conn.execute("PRAGMA journal_size_limit = 8000000")  # a long catch-up must not leave a big log behind
            busy = conn.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()[0]
            if busy and self._in_doubt:
                raise sqlite3.OperationalError("after a failed write the log must be emptied first, and a reader has it open")
            migrate(db)
            if self._knows_session(conn):
                self._there = int(conn.execute("SELECT last_tick FROM session WHERE session_id = ?", (self._session_id,)).fetchone()[0])
                self._forget(past.on_before(conn, self._there + 1), None)
            else:
                with db.atomic():
                    session_id = self._begin_session(conn)
                self._session_id, self._session_tick = session_id, self._began[0]
                self._there = -1
                self._forget(frozenset(), None)
        except BaseException:
            conn.close()
            raise
        self._db, self._inode, self._in_doubt = db, _inode(self.path), False
        return db

    def _knows_session(self, conn: sqlite3.Connection) -> bool:
        """Tell whether this is still the file in which the session was begun (an inode number would be used again)."""
        row = conn.execute("SELECT boot_id, first_tick FROM session ORDER BY session_id DESC LIMIT 1").fetchone()
        return self._session_id > 0 and row == (self.session.boot_id, self._session_tick)

    def _begin_session(self, conn: sqlite3.Connection) -> int:
        chamber, (first_tick, stamp, start_state) = self.session.chamber, self._began
        for last_tick, output in conn.execute(
            "SELECT max(c.tick, (SELECT coalesce(max(last_tick), 0) FROM session)), c.output FROM output_change AS c WHERE c.is_on = 1"
            " AND NOT EXISTS (SELECT 1 FROM output_change AS d WHERE d.output = c.output AND d.tick > c.tick)"
        ).fetchall():  # the keeper dropped these when the session before ended
            conn.execute("INSERT OR REPLACE INTO output_change VALUES (?,?,0)", (last_tick + 1, output))
        cursor = conn.execute(
            "INSERT INTO session (boot_id, version, chamber_name, chamber, period_s, first_tick, last_tick, begun_utc,"
            " clock_synchronised, start_state, carried_from) VALUES (?,?,?,?,?,?,?,?,?,?,?)",
            (
                self.session.boot_id, self.session.version, chamber.name, tidy(to_json(chamber)), chamber.period_s, first_tick, first_tick - 1,
                utc_text(stamp.utc_s), int(stamp.synchronised), None if start_state is None else tidy(to_json(start_state)),
                "" if self.set_aside is None else self.set_aside.name,
            ),
        )  # fmt: skip
        session_id = int(cursor.lastrowid or 0)
        enter_channels(conn, chamber)
        if self._live_run is not None:
            tick, mark = self._live_run
            write_mark(conn, mark, tick, utc_text(stamp.utc_s - (first_tick - tick) * chamber.period_s), session_id)
        return session_id

    # ---- writing

    def _write(self, conn: sqlite3.Connection, batch: Sequence[Tick], newest: Newest | None, state: str | None, lost: Sequence[Lost]) -> None:
        if batch:
            self._write_ticks(conn, batch)
        if newest is not None and state is not None:
            tick, stamp, _ = newest
            self._write_anchor(conn, tick, stamp)
            conn.execute(
                "INSERT OR REPLACE INTO checkpoint VALUES (?,?,?,?,?,?,?,?,?)",
                (
                    1 - self._slot, self._session_id, tick, state, self.session.boot_id, stamp.boottime_s,
                    utc_text(stamp.utc_s), stamp.utc_s, int(stamp.synchronised),
                ),
            )  # fmt: skip
            conn.execute("UPDATE session SET last_tick = max(last_tick, ?) WHERE session_id = ?", (tick, self._session_id))
        conn.executemany("INSERT OR REPLACE INTO lost VALUES (?,?,?,?)", lost)

    def _write_ticks(self, conn: sqlite3.Connection, batch: Sequence[Tick]) -> None:
        rows: dict[str, list[tuple[Any, ...]]] = defaultdict(list)
        for item in batch:
            self._reading_rows(conn, item, rows["reading"])
            rare_rows(item, rows)
            for name, value in (item.figures or {}).items():
                if self._figures.get(name) != value:
                    self._figures[name] = value
                    rows["figure"].append((item.tick, self._names.figure(conn, name), value))
        for table, found in rows.items():
            conn.executemany(INSERT[table], found)
        for item in batch:
            self._write_anchor(conn, item.tick, item.stamp)
            self._write_outputs(conn, item)
            for mark in item.marks:
                write_mark(conn, mark, item.tick, utc_text(item.stamp.utc_s), self._session_id)
        self._write_spans(conn, batch[0].tick, batch[-1].tick)
        conn.execute("UPDATE session SET last_tick = max(last_tick, ?) WHERE session_id = ?", (batch[-1].tick, self._session_id))

    def _reading_rows(self, conn: sqlite3.Connection, item: Tick, rows: list[tuple[Any, ...]]) -> None:
        readings, channels = item.inputs.readings, self._names.channels
        if len(readings) > 1 << SEQ_BITS:
            raise ValueError(f"{len(readings)} readings in one tick, at most {1 << SEQ_BITS} fit")
        for reading_id, r in enumerate(readings, item.tick << SEQ_BITS):
            value, note = r.value, None
            if r.fault or not value or value != value:
                value, note = self._names.remark(conn, value, r.fault)
            rows.append((reading_id, channels.get(r.channel) or self._names.channel(conn, r.channel), value, r.sampled_s, note))

    def _write_one_by_one(self, db: Database, batch: Sequence[Tick]) -> None:
        for item in batch:
            on, anchor = self._on, self._anchor
            try:
                with db.atomic():  # nested: a savepoint
                    self._write_ticks(db.conn, (item,))
            except UNFIT as why:
                self._forget(on, anchor)
                self.refused += 1
                tick = max(-(2**63), min(item.tick, 2**63 - 1))
                db.conn.execute("INSERT INTO refused VALUES (?,?,?)", (tick, tidy(str(why)), tidy(repr(item))))

    def _write_outputs(self, conn: sqlite3.Connection, item: Tick) -> None:
        on = item.commands.on
        if on != self._on:
            changes = [(item.tick, name, int(name in on)) for name in sorted(on ^ self._on)]
            conn.executemany("INSERT OR REPLACE INTO output_change VALUES (?,?,?)", changes)
            self._on = on

    def _write_anchor(self, conn: sqlite3.Connection, tick: int, stamp: Stamp) -> None:
        period_s = self.session.chamber.period_s
        if self._anchor is not None:
            since_s = (tick - self._anchor[0]) * period_s
            if since_s < ANCHOR_S and abs(self._anchor[1] + since_s - stamp.utc_s) < STEP_S:
                return
        conn.execute(
            "INSERT OR REPLACE INTO clock VALUES (?,?,?,?,?,?)",
            (tick, self._session_id, tick * period_s, utc_text(stamp.utc_s), stamp.utc_s, int(stamp.synchronised)),
        )
        self._anchor = (tick, stamp.utc_s)

    def _write_spans(self, conn: sqlite3.Connection, first: int, last: int) -> None:
        ticks = max(1, round(SPAN_S / self.session.chamber.period_s))
        conn.execute(
            "INSERT INTO span SELECT channel_id, tick / ?1 * ?1, ?1, count(value), count(*) - count(value), min(value), max(value), sum(value)"
            " FROM reading WHERE reading_id >= ?2 AND reading_id < ?3 GROUP BY 1, 2"
            " ON CONFLICT (channel_id, from_tick, ticks) DO UPDATE SET n = n + excluded.n, failed = failed + excluded.failed,"
            " low = min(coalesce(low, excluded.low), coalesce(excluded.low, low)),"
            " high = max(coalesce(high, excluded.high), coalesce(excluded.high, high)),"
            " total = coalesce(total + excluded.total, total, excluded.total)",
            (ticks, first << SEQ_BITS, (last + 1) << SEQ_BITS),
        )

    def _forget(self, on: frozenset[str], anchor: tuple[int, float] | None) -> None:
        """Go back to what the file knows: names given out in a transaction that failed do not exist."""
        self._on, self._anchor = on, anchor
        self._names.forget()
        self._figures.clear()

    def _remember(self, batch: Sequence[Tick], newest: Newest | None) -> None:
        """Keep what a new file would have to begin with, should this one be set aside."""
        if newest is not None:
            self._slot = 1 - self._slot
            self._began = (newest[0] + 1, newest[1], newest[2])
        for tick, mark in ((item.tick, mark) for item in batch for mark in item.marks):
            if isinstance(mark, RunBegan):
                self._live_run = (tick, mark)
            elif isinstance(mark, RunEnded):
                self._live_run = None


def _inode(path: Path) -> int:
    try:
        return path.stat().st_ino
    except FileNotFoundError:
        return -1
