"""The file: opened, brought up to date, set aside when it is damaged, and one batch of ticks written in one transaction.

A sync that fails leaves a transaction in doubt: SQLite reports it as not done, yet after a reopening it may be there, and
the kernel may believe pages clean that never reached the disk. So after any failure the file is opened anew, its log is
moved into the file and emptied before anything is added to it, and what turns out to be there is not written again.
"""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Sequence
from pathlib import Path

from sqlite_utils import Database

from dryward.record import past
from dryward.record.checkpoint import to_json
from dryward.record.damage import is_damaged, move_aside
from dryward.record.moments import RunBegan, RunEnded, Session, Stamp, utc_text
from dryward.record.rows import SEQ_BITS, Tick, tidy
from dryward.record.schema import THINNED, NewerSchema, migrate
from dryward.record.sessions import Beginning, begin_session, is_last_session, last_tick_of
from dryward.record.ticks import Known, TickWriter

Lost = tuple[int, int, int, str]
"""First tick, last tick, number of readings that could not be kept, why."""

Newest = tuple[int, Stamp, object]
"""The last tick, its clocks, and the engine's state after it."""

UNFIT = (
    sqlite3.IntegrityError,
    sqlite3.ProgrammingError,
    sqlite3.InterfaceError,
    sqlite3.DataError,
    ValueError,
    TypeError,
    OverflowError,
)
"""What an entry that does not fit the tables raises; everything else is the disk's or the file's fault."""

BITE = 5000  # readings deleted at a time when thinning: short enough that the next commit does not wait


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
        self._next = Beginning(session.first_tick, session.stamp, session.start_state, session.live_run)
        self._ticks = TickWriter(period_s=session.chamber.period_s)
        self._slot = 0

    def write(self, batch: Sequence[Tick], newest: Newest | None, lost: Sequence[Lost]) -> None:
        """Make ``batch``, the newest state and the account of what was lost durable together, or raise and change nothing.

        A single entry that the tables will not take is put down in table ``refused`` and the rest is written.
        """
        state = self._state_text(newest)
        try:
            db = self._open()
            missing = [item for item in batch if item.tick > self._there]
            known = self._ticks.known
            try:
                with db.atomic():
                    self._write(db.conn, missing, newest, state, lost)
            except UNFIT:
                self._ticks.forget(known)
                with db.atomic():
                    self._write_one_by_one(db, missing)
                    self._write(db.conn, (), newest, state, lost)
        except BaseException as why:
            self._fail(why, batch[-1].stamp if batch else self._next.stamp)
            raise
        self._there, self._damaged = -1, 0
        self._remember(batch, newest if state is not None else None)

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
                    "INSERT OR REPLACE INTO lost (from_tick, to_tick, readings, why) SELECT 0, min(?1, coalesce((SELECT min(reading_id) >> ?2 FROM reading), ?1)) - 1, 0, ?3",
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
                raise sqlite3.OperationalError(
                    "after a failed write the log must be emptied first, and a reader has it open"
                )
            migrate(db)
            if is_last_session(conn, self._session_id, self.session, self._session_tick):
                self._there = last_tick_of(conn, self._session_id)
                self._ticks.forget(Known(past.on_before(conn, self._there + 1)))
            else:
                with db.atomic():
                    session_id = begin_session(conn, self.session, self._next)
                self._session_id, self._session_tick, self._there = session_id, self._next.first_tick, -1
                self._ticks.forget(Known())
        except BaseException:
            conn.close()
            raise
        self._db, self._inode, self._in_doubt = db, _inode(self.path), False
        return db

    def _write(
        self,
        conn: sqlite3.Connection,
        batch: Sequence[Tick],
        newest: Newest | None,
        state: str | None,
        lost: Sequence[Lost],
    ) -> None:
        last = -1
        if batch:
            self._ticks.write(conn, batch, self._session_id)
            last = batch[-1].tick
        if newest is not None and state is not None:
            last, stamp, _ = newest
            self._ticks.anchor(conn, last, stamp, self._session_id)
            conn.execute(
                "INSERT OR REPLACE INTO checkpoint VALUES (?,?,?,?,?,?,?,?,?)",
                (
                    1 - self._slot, self._session_id, last, state, self.session.boot_id, stamp.boottime_s,
                    utc_text(stamp.utc_s), stamp.utc_s, int(stamp.synchronised),
                ),
            )  # fmt: skip
        conn.execute(
            "UPDATE session SET last_tick = ?1 WHERE session_id = ?2 AND last_tick < ?1", (last, self._session_id)
        )
        conn.executemany("INSERT OR REPLACE INTO lost (from_tick, to_tick, readings, why) VALUES (?,?,?,?)", lost)

    def _write_one_by_one(self, db: Database, batch: Sequence[Tick]) -> None:
        for item in batch:
            known = self._ticks.known
            try:
                with db.atomic():  # nested: a savepoint
                    self._ticks.write(db.conn, (item,), self._session_id)
            except UNFIT as why:
                self._ticks.forget(known)
                self.refused += 1
                tick = max(-(2**63), min(item.tick, 2**63 - 1))
                db.conn.execute("INSERT INTO refused VALUES (?,?,?)", (tick, tidy(str(why)), tidy(repr(item))))

    def _state_text(self, newest: Newest | None) -> str | None:
        """Return the state as text. One that cannot be written must not keep the readings from being written."""
        self.no_state = ""
        try:
            return None if newest is None else tidy(to_json(newest[2]))
        except Exception as why:
            self.no_state = f"the engine's state cannot be kept, a restart would begin afresh: {why}"
            return None

    def _fail(self, why: BaseException, stamp: Stamp) -> None:
        """Close the file, so that the next attempt begins by looking at what is there; set it aside if it is damaged."""
        self._in_doubt = getattr(why, "sqlite_errorcode", None) != sqlite3.SQLITE_BUSY
        self.close()
        self._damaged = self._damaged + 1 if is_damaged(why) else 0
        if self._damaged == 2 or isinstance(why, NewerSchema):  # once may be a bad read
            self._damaged = 0
            self.set_aside = move_aside(self.path, at_utc_s=stamp.utc_s)
            self._next = self._next._replace(carried_from=self.set_aside.name)

    def _remember(self, batch: Sequence[Tick], newest: Newest | None) -> None:
        """Keep what a new file would have to begin with, should this one be set aside."""
        if newest is not None:
            self._slot = 1 - self._slot
            self._next = self._next._replace(first_tick=newest[0] + 1, stamp=newest[1], start_state=newest[2])
        for tick, mark in ((item.tick, mark) for item in batch for mark in item.marks):
            if isinstance(mark, RunBegan):
                self._next = self._next._replace(live_run=(tick, mark))
            elif isinstance(mark, RunEnded):
                self._next = self._next._replace(live_run=None)


def _inode(path: Path) -> int:
    try:
        return path.stat().st_ino
    except FileNotFoundError:
        return -1
