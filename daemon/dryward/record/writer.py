"""Keeps the record without ever being in the way: ``put`` takes what a tick left behind, a thread makes it durable.

The loop must not wait for a disk and must not fall over it. So ``put`` only appends to a buffer; a thread writes the
buffer about every ``commit_s`` and at once when something may not be lost. While the disk fails the buffer grows to a
bound and then gives up its oldest readings, never an event, a weighing or a request, and counts what it gave up.
"""

from __future__ import annotations

import sqlite3
import threading
from collections import deque
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from time import monotonic

from dryward.core.commands import Commands
from dryward.core.inputs import Inputs
from dryward.record.moments import Mark, Session, Stamp
from dryward.record.rows import Tick
from dryward.record.store import Lost, Store

HUNG_S = 15.0  # a write that takes longer is told as failing, though it may still succeed
RETRY_S = 5.0  # between attempts while writing fails; faults.md wants an alarm within 60 s


@dataclass(frozen=True, slots=True, kw_only=True)
class Health:
    """How the record is doing. ``failing_s``: since when (real seconds), ``why`` as a sentence; ``dropped`` readings are gone for good."""

    ok: bool
    failing_s: float = 0.0
    why: str = ""
    buffered: int = 0  # readings waiting to be written
    dropped: int = 0
    refused: int = 0  # entries that did not fit the tables, kept as text in table `refused`
    commits: int = 0
    slowest_s: float = 0.0
    set_aside: Path | None = None


class RecordWriter:
    """The one writer of the record file. ``threaded=False`` writes inside ``put``, for rehearsals and tests.

    ``commit_s`` and the health's times are real seconds. Neither ``put`` nor the constructor raises or waits for the disk.
    """

    def __init__(
        self,
        path: Path,
        session: Session,
        *,
        commit_s: float = 10.0,
        threaded: bool = True,
        max_readings: int = 50_000,
        batch_readings: int = 20_000,
        busy_s: float = 2.0,
    ) -> None:
        self._store = Store(Path(path), session, busy_s=busy_s)
        self._commit_s = commit_s
        self._max_readings, self._batch_readings = max_readings, batch_readings
        self._lock = threading.Lock()
        self._wake = threading.Condition(self._lock)
        self._buffer: deque[Tick] = deque()
        self._stripped: list[Tick] = []  # older than all in the buffer: their readings had to go
        self._newest: tuple[int, Stamp, object] | None = None
        self._lost: list[Lost] = []
        self._on: frozenset[str] = frozenset()
        self._next_tick = session.first_tick
        self._puts = self._durable = self._attempts = 0
        self._urgent = True  # the session itself is written at once
        self._closing = False
        self._thin_before: int | None = None
        self._buffered = self._dropped = self._commits = 0
        self._slowest_s = 0.0
        self._failing_since: float | None = None
        self._writing_since: float | None = None
        self._why = ""
        self._tried = monotonic()
        self._thread: threading.Thread | None = None
        if threaded:
            self._thread = threading.Thread(target=self._run, name="record-writer", daemon=True)
            self._thread.start()
        else:
            self._attempt()

    def put(
        self,
        tick: int,
        stamp: Stamp,
        inputs: Inputs,
        commands: Commands,
        state: object,
        *,
        marks: tuple[Mark, ...] = (),
        figures: Mapping[str, float] | None = None,
    ) -> None:
        """Take what one tick left behind. ``state`` is the engine's state after it; only the newest is kept, with each commit."""
        skipped_from = self._next_tick if tick > self._next_tick else None
        with self._lock:
            self._next_tick = tick + 1
            self._puts += 1
            self._newest = (tick, stamp, state)
            item = Tick(tick, stamp, inputs, commands, marks, figures, skipped_from, commands.on != self._on)
            if item.matters():
                self._buffer.append(item)
                self._on = commands.on
                self._buffered += len(inputs.readings)
                if self._buffered > self._max_readings:
                    self._keep_to_bound()
            self._urgent = self._urgent or commands.keep
            due = self._is_due()
            if due and self._thread is not None:
                self._wake.notify_all()
        if due and self._thread is None:
            self._attempt()

    def flush(self, timeout_s: float = 5.0) -> bool:
        """Wait until all that was put so far is durable. False: writing fails, or it took longer than ``timeout_s``."""
        if self._thread is None:
            return self._attempt()
        deadline = monotonic() + timeout_s
        with self._wake:
            goal, attempts = self._puts, self._attempts
            while self._durable < goal or self._attempts == 0:
                if self._failing_since is not None and self._attempts > attempts:
                    return False
                left_s = deadline - monotonic()
                if left_s <= 0.0 or not self._thread.is_alive():
                    return False
                self._urgent = True
                self._tried = min(self._tried, monotonic() - RETRY_S)
                self._wake.notify_all()
                self._wake.wait(left_s)
            return self._failing_since is None

    def thin(self, before_tick: int) -> None:
        """Have the readings before ``before_tick`` deleted bit by bit; their low, mean and high of five minutes stay."""
        with self._wake:
            self._thin_before = before_tick
            self._wake.notify_all()
        if self._thread is None:
            while self._thin_before is not None and self._attempt():
                pass

    def health(self) -> Health:
        """Return how the record is doing, at once and from any thread."""
        with self._lock:
            since, why = self._failing_since, self._why
            if self._writing_since is not None and monotonic() - self._writing_since > HUNG_S:
                since, why = since or self._writing_since, why or f"the disk under {self._store.path} does not answer"
            return Health(
                ok=since is None and not self._store.no_state,
                failing_s=0.0 if since is None else monotonic() - since,
                why=why or self._store.no_state,
                buffered=self._buffered,
                dropped=self._dropped,
                refused=self._store.refused,
                commits=self._commits,
                slowest_s=self._slowest_s,
                set_aside=self._store.set_aside,
            )

    def alive(self) -> bool:
        """Tell whether somebody is there to write: the thread, or ``put`` itself."""
        return self._thread is None or self._thread.is_alive()

    def close(self, timeout_s: float = 10.0) -> bool:
        """Write what is left and close the file. False: something could not be written in time."""
        with self._wake:
            self._closing = True
            self._wake.notify_all()
        if self._thread is not None:
            self._thread.join(timeout_s)
            return not self._thread.is_alive() and self._failing_since is None
        done = self._attempt()
        self._store.close(in_order=done)
        return done

    # ---- the thread

    def _run(self) -> None:
        while True:
            with self._wake:
                while not (self._closing or self._is_due()):
                    self._wake.wait(max(0.01, self._tried + self._pause_s() - monotonic()))
                closing = self._closing
            done = self._attempt()
            if closing:
                self._store.close(in_order=done)
                return

    def _pause_s(self) -> float:
        return self._commit_s if self._failing_since is None else min(self._commit_s, RETRY_S)

    def _is_due(self) -> bool:
        waited_s = monotonic() - self._tried
        if self._failing_since is not None:
            return waited_s >= self._pause_s()
        return self._urgent or waited_s >= self._commit_s or self._buffered >= self._batch_readings

    def _attempt(self) -> bool:
        """Write all that is buffered; on failure put it back in front."""
        with self._lock:
            batch, newest, lost, readings = [*self._stripped, *self._buffer], self._newest, self._lost, self._buffered
            self._stripped, self._newest, self._lost, self._buffered, self._urgent = [], None, [], 0, False
            self._buffer.clear()
            goal = self._puts
            began = self._tried = self._writing_since = monotonic()
        why = ""
        try:
            self._store.write(batch, newest, lost)
        except (sqlite3.Error, OSError) as error:
            why = f"the record {self._store.path} cannot be written: {error}"
        except Exception as error:  # whatever it is, the record must not take control down with it
            why = f"the record {self._store.path} cannot be written: {type(error).__name__}: {error}"
        with self._wake:
            self._attempts += 1
            self._writing_since = None
            self._why = why
            if why:
                self._buffer.extendleft(reversed(batch))
                self._newest = self._newest or newest
                self._lost = lost + self._lost
                self._buffered += readings
                self._failing_since = self._failing_since or began
                self._keep_to_bound()
            else:
                self._durable, self._failing_since = goal, None
                self._commits += 1
                self._slowest_s = max(self._slowest_s, monotonic() - began)
            self._wake.notify_all()
        if not why:
            self._thin_a_bite()
        return not why

    def _thin_a_bite(self) -> None:
        before_tick = self._thin_before
        if before_tick is not None:
            with suppress(sqlite3.Error, OSError):  # it can wait; should the disk be bad, the next write says so
                if self._store.thin(before_tick):
                    self._thin_before = None

    def _keep_to_bound(self) -> None:
        """Give up the oldest readings beyond the bound, and only readings."""
        while self._buffered > self._max_readings:
            item = self._buffer.popleft()
            gone = len(item.inputs.readings)
            rest = replace(item, inputs=replace(item.inputs, readings=()))
            if rest.matters():
                self._stripped.append(rest)
            if gone:
                self._buffered -= gone
                self._dropped += gone
                why = self._why or "more came than could be written"
                if self._lost and self._lost[-1][3] == why:
                    self._lost[-1] = (self._lost[-1][0], item.tick, self._lost[-1][2] + gone, why)
                else:
                    self._lost.append((item.tick, item.tick, gone, why))
