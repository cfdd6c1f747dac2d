"""What is to be sent, kept on disk until it has arrived: at least once, in order, over restarts and power loss.

``put`` never waits and never raises: a thread makes letters durable and only then are they given out. While the disk
fails they are given out all the same, because an alarm that cannot be written down must still be heard. Each lane
(one destination) is bounded: beyond ``limit`` the oldest of its least grave letters are given up and counted.
"""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Callable, Collection, Iterable, Sequence
from contextlib import closing, suppress
from dataclasses import dataclass
from pathlib import Path
from secrets import token_hex
from time import monotonic, time

from dryward.core.commands import Event, Severity
from dryward.record.damage import is_damaged, move_aside
from dryward.record.queries import open_readonly

LIMIT = 5000  # letters a lane: two days of a bad chamber, about 5 MB of memory at the very worst
RETRY_S = 5.0
GRAVITY: tuple[Severity, ...] = ("log", "notice", "warning", "alarm", "trip")
SCHEMA = """
CREATE TABLE IF NOT EXISTS letter (
    seq       INTEGER PRIMARY KEY,
    lane      TEXT NOT NULL,
    severity  TEXT NOT NULL,
    body      TEXT NOT NULL,
    due_utc_s REAL NOT NULL
) STRICT;
CREATE TABLE IF NOT EXISTS about (
    one       INTEGER PRIMARY KEY CHECK (one = 1),
    box       TEXT NOT NULL,           -- together with seq it names a letter for ever
    next_seq  INTEGER NOT NULL,
    last_tick INTEGER                  -- of the newest events that were put in
) STRICT;
"""


@dataclass(frozen=True, slots=True)
class Draft:
    """Something to be sent to one lane, not before ``due_utc_s``."""

    lane: str
    severity: Severity
    body: str
    due_utc_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Letter:
    """A draft with its number. Numbers only rise."""

    seq: int
    draft: Draft


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiting:
    """How an outbox is doing. ``why`` is a sentence while the disk fails; ``dropped`` letters were given up for good."""

    letters: int
    dropped: int
    why: str = ""


class Outbox:
    """One file of letters. ``lanes`` are the destinations there are; letters to others are thrown away unless ``all_known``
    is False, which says that there may be more than could be read today.

    ``saved`` is called in the outbox's own thread whenever letters have become ready.
    """

    def __init__(
        self,
        path: Path,
        lanes: Iterable[str],
        *,
        all_known: bool = True,
        limit: int = LIMIT,
        saved: Callable[[], None] | None = None,
    ) -> None:
        self._path = Path(path)
        self._limit = limit
        self._all_known = all_known
        self._saved = saved
        self._wake = threading.Condition()
        self._lanes: dict[str, dict[int, Draft]] = {lane: {} for lane in lanes}  # each by rising number
        self._unsaved: list[Letter] = []
        self._gone: list[int] = []
        self._box = token_hex(4)
        self._next_seq = int(time() * 1000.0)  # above whatever the file may hold, should it not open today
        self._ready_below = 0  # letters with lower numbers are durable
        self._last_tick: int | None = None
        self._dropped = 0
        self._why = ""
        self._tried = -RETRY_S
        self._closing = self._writing = self._taken_up = False
        self._whole = False  # the file is new or in doubt: it gets everything, not only what has changed
        self._conn: sqlite3.Connection | None = None
        self._inode = -1
        try:
            self._open()
            self._ready_below = self._next_seq
        except (sqlite3.Error, OSError) as error:
            self._why = f"the outbox {self._path} cannot be opened: {error}"
        self._thread = threading.Thread(target=self._run, name="outbox", daemon=True)
        self._thread.start()

    @property
    def box(self) -> str:
        """The name of this outbox: with a letter's number it is unlike any other's."""
        return self._box

    @property
    def last_tick(self) -> int | None:
        """Tick of the newest events that were put in, this time or before; None when there were none."""
        return self._last_tick

    @property
    def newest(self) -> int:
        """Number of the newest letter that may be ready, in whatever lane: to look whether looking is worth while."""
        return (self._next_seq if self._why else self._ready_below) - 1

    def put(self, drafts: Sequence[Draft], *, tick: int | None = None) -> None:
        """Take drafts in the order they are to arrive. ``tick``: that of the events they tell of."""
        with self._wake:
            if tick is not None:
                self._last_tick = tick
            for draft in drafts:
                lane = self._lanes.get(draft.lane)
                if lane is None:
                    continue
                lane[self._next_seq] = draft
                self._unsaved.append(Letter(self._next_seq, draft))
                self._next_seq += 1
                self._keep_to_bound(lane)
            self._wake.notify_all()

    def take(self, lane: str, *, after: int = 0, most: int = 1) -> list[Letter]:
        """Return the next letters that are ready and due, in order; they stay in the box until ``done``."""
        now_utc_s = time()
        found: list[Letter] = []
        with self._wake:
            below = self._next_seq if self._why else self._ready_below
            for seq, draft in self._lanes[lane].items():
                if seq >= below or len(found) >= most:
                    break
                if seq > after and draft.due_utc_s <= now_utc_s:
                    found.append(Letter(seq, draft))
        return found

    def done(self, lane: str, seqs: Collection[int]) -> None:
        """Forget letters that have arrived."""
        with self._wake:
            self._gone += [seq for seq in seqs if self._lanes[lane].pop(seq, None) is not None]
            self._wake.notify_all()

    def waiting(self, lane: str | None = None) -> Waiting:
        """Say how many letters wait, in one lane or in all."""
        with self._wake:
            lanes = list(self._lanes.values()) if lane is None else [self._lanes[lane]]
            return Waiting(letters=sum(map(len, lanes)), dropped=self._dropped, why=self._why)

    def flush(self, timeout_s: float = 5.0) -> bool:
        """Wait until all that was put in and done is durable. False: it is not."""
        deadline = monotonic() + timeout_s
        with self._wake:
            self._tried = -RETRY_S
            self._wake.notify_all()
            while self._unsaved or self._gone or self._whole or self._writing:
                left_s = deadline - monotonic()
                if left_s <= 0.0 or not self._thread.is_alive():
                    return False
                self._wake.wait(min(left_s, 0.2))
            return not self._why

    def close(self) -> None:
        """Make durable what can be, and close the file."""
        with self._wake:
            self._closing = True
            self._wake.notify_all()
        self._thread.join(10.0)

    # ---- the thread

    def _run(self) -> None:
        while True:
            with self._wake:
                while not (self._closing or self._is_due()):
                    self._wake.wait(RETRY_S)
                closing_now = self._closing
                self._tried = monotonic()
                self._writing = True
            why = ""
            try:
                self._write()
            except (sqlite3.Error, OSError, ValueError) as error:
                why = f"the outbox {self._path} cannot be written: {error}"
            with self._wake:
                self._writing = False
                self._why, self._whole = why, bool(why)
                self._wake.notify_all()
            if self._saved is not None:
                with suppress(Exception):
                    self._saved()
            if closing_now:
                self._hang_up()
                return

    def _is_due(self) -> bool:
        if self._why:
            return monotonic() - self._tried >= RETRY_S
        return bool(self._unsaved or self._gone)

    def _write(self) -> None:
        """Make all that has changed durable in one transaction, or raise."""
        if self._conn is None or _inode(self._path) != self._inode:
            self._hang_up()
            self._open()
            self._whole = True
        with self._wake:
            unsaved, gone, self._unsaved, self._gone = self._unsaved, self._gone, [], []
            if self._whole:
                unsaved = [Letter(seq, draft) for lane in self._lanes.values() for seq, draft in lane.items()]
            about = (self._box, self._next_seq, self._last_tick)
        assert self._conn is not None
        try:
            self._conn.execute("BEGIN IMMEDIATE")
            if self._whole:
                self._conn.executemany("DELETE FROM letter WHERE lane = ?", [(lane,) for lane in self._lanes])
            self._conn.executemany("INSERT OR REPLACE INTO letter VALUES (?,?,?,?,?)", map(_row, unsaved))
            self._conn.executemany("DELETE FROM letter WHERE seq = ?", [(seq,) for seq in gone])
            self._conn.execute("INSERT OR REPLACE INTO about VALUES (1,?,?,?)", about)
            self._conn.execute("COMMIT")
        except BaseException:
            self._hang_up()  # what was done is in doubt; the next attempt opens the file anew and writes everything
            raise
        with self._wake:
            self._ready_below = max(self._ready_below, about[1])

    def _open(self) -> None:
        """Open the file, and the first time take up what waits in it. One that is damaged is set aside. Raises."""
        try:
            self._connect()
        except (sqlite3.Error, UnicodeDecodeError) as error:
            if not is_damaged(error):
                raise
            move_aside(self._path, at_utc_s=time())
            self._connect()

    def _connect(self) -> None:
        self._path.parent.mkdir(parents=True, exist_ok=True)
        conn = sqlite3.connect(self._path, timeout=2.0, isolation_level=None, check_same_thread=False)
        try:
            conn.execute("PRAGMA journal_mode = WAL")
            conn.execute("PRAGMA synchronous = FULL")  # NORMAL loses committed letters at power loss
            conn.executescript(SCHEMA)
            if not self._taken_up:
                self._take_up(conn)
        except BaseException:
            conn.close()
            raise
        self._conn, self._inode, self._taken_up = conn, _inode(self._path), True

    def _take_up(self, conn: sqlite3.Connection) -> None:
        """Put what waits in the file before what has come since."""
        about = conn.execute("SELECT box, next_seq, last_tick FROM about").fetchone()
        rows = conn.execute("SELECT seq, lane, severity, body, due_utc_s FROM letter ORDER BY seq").fetchall()
        with self._wake:
            nothing_yet = not self._unsaved and not self._why
            if about is None:
                self._next_seq = 1 if nothing_yet else self._next_seq
            else:
                self._box = about[0]
                self._next_seq = about[1] if nothing_yet else max(about[1], self._next_seq)
                self._last_tick = about[2] if self._last_tick is None else self._last_tick
            for seq, lane, severity, body, due_utc_s in rows:
                if lane in self._lanes:
                    self._lanes[lane][seq] = Draft(lane, severity, body, due_utc_s)
                elif self._all_known:
                    self._gone.append(seq)  # a destination that is no longer named
            self._lanes = {lane: dict(sorted(letters.items())) for lane, letters in self._lanes.items()}

    def _hang_up(self) -> None:
        conn, self._conn = self._conn, None
        if conn is not None:
            with suppress(sqlite3.Error):
                conn.close()

    def _keep_to_bound(self, lane: dict[int, Draft]) -> None:
        while len(lane) > self._limit:
            least = min(lane, key=lambda seq: (GRAVITY.index(lane[seq].severity), seq))
            del lane[least]
            self._gone.append(least)
            self._dropped += 1


def missed_events(record: Path, after_tick: int, *, most: int = LIMIT) -> list[tuple[int, str, Event]]:
    """Return the newest events of the record later than ``after_tick``: tick, time, event. Empty when it cannot be read.

    What was decided and recorded just before the power went may not have reached the outbox.
    """
    try:
        with closing(open_readonly(record)) as conn:
            rows = conn.execute(
                "SELECT tick, utc, kind, subject, severity, text, meaning, advice, value FROM event WHERE tick > ?"
                " ORDER BY tick DESC, seq DESC LIMIT ?",
                (after_tick, most),
            ).fetchall()
    except (sqlite3.Error, OSError):
        return []
    return [
        (
            tick,
            utc,
            Event(
                kind=kind, subject=subject, severity=severity, text=text, meaning=meaning, advice=advice, value=value
            ),
        )
        for tick, utc, kind, subject, severity, text, meaning, advice, value in reversed(rows)
    ]


def _row(letter: Letter) -> tuple[int, str, str, str, float]:
    draft = letter.draft
    return letter.seq, draft.lane, draft.severity, draft.body, draft.due_utc_s


def _inode(path: Path) -> int:
    try:
        return path.stat().st_ino
    except OSError:
        return -1
