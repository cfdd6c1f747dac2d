"""Writes ticks into the tables, with what it must remember between them: names, outputs that are on, the clock anchor."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from sqlite3 import Connection
from typing import Any, NamedTuple

from dryward.record.marks import write_mark
from dryward.record.moments import Stamp, utc_text
from dryward.record.names import Names
from dryward.record.rows import INSERT, SEQ_BITS, Tick, rare_rows
from dryward.record.schema import SPAN_S

ANCHOR_S = 60.0  # a clock anchor so often (chamber time) ...
STEP_S = 0.5  # ... and whenever the wall clock is this far from where the last anchor puts it


class Known(NamedTuple):
    """What the file knows: outputs on after the last tick, and the last anchor (tick, POSIX seconds)."""

    on: frozenset[str] = frozenset()
    anchor: tuple[int, float] | None = None


class TickWriter:
    """Writes within a transaction of its caller, who calls ``forget`` with the ``known`` of before when it fails."""

    def __init__(self, *, period_s: float) -> None:
        self.known = Known()
        self._period_s = period_s
        self._span_ticks = max(1, round(SPAN_S / period_s))
        self._names = Names()
        self._figures: dict[str, float] = {}

    def forget(self, known: Known) -> None:
        """Go back to what the file knows: names given out in a transaction that failed do not exist."""
        self.known = known
        self._names.forget()
        self._figures.clear()

    def write(self, conn: Connection, batch: Sequence[Tick], session_id: int) -> None:
        """Write ticks in rising order."""
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
            self.anchor(conn, item.tick, item.stamp, session_id)
            self._switch(conn, item)
            for mark in item.marks:
                write_mark(conn, mark, item.tick, utc_text(item.stamp.utc_s), session_id)
        self._spans(conn, batch[0].tick, batch[-1].tick)

    def anchor(self, conn: Connection, tick: int, stamp: Stamp, session_id: int) -> None:
        """Note what the wall clock says, if it is time or the clock was moved."""
        anchor = self.known.anchor
        if anchor is not None:
            since_s = (tick - anchor[0]) * self._period_s
            if since_s < ANCHOR_S and abs(anchor[1] + since_s - stamp.utc_s) < STEP_S:
                return
        conn.execute(
            "INSERT OR REPLACE INTO clock VALUES (?,?,?,?,?,?)",
            (tick, session_id, tick * self._period_s, utc_text(stamp.utc_s), stamp.utc_s, int(stamp.synchronised)),
        )
        self.known = Known(self.known.on, (tick, stamp.utc_s))

    def _reading_rows(self, conn: Connection, item: Tick, rows: list[tuple[Any, ...]]) -> None:
        readings, channels = item.inputs.readings, self._names.channels
        if len(readings) > 1 << SEQ_BITS:
            raise ValueError(f"{len(readings)} readings in one tick, at most {1 << SEQ_BITS} fit")
        for reading_id, r in enumerate(readings, item.tick << SEQ_BITS):
            value, note = r.value, None
            if r.fault or not value or value != value:
                value, note = self._names.remark(conn, value, r.fault)
            rows.append(
                (reading_id, channels.get(r.channel) or self._names.channel(conn, r.channel), value, r.sampled_s, note)
            )

    def _switch(self, conn: Connection, item: Tick) -> None:
        before, on = self.known.on, item.commands.on
        if on != before:
            changes = [(item.tick, name, int(name in on)) for name in sorted(on ^ before)]
            conn.executemany("INSERT OR REPLACE INTO output_change VALUES (?,?,?)", changes)
            self.known = Known(on, self.known.anchor)

    def _spans(self, conn: Connection, first: int, last: int) -> None:
        conn.execute(
            "INSERT INTO span SELECT channel_id, tick / ?1 * ?1, ?1, count(value), count(*) - count(value), min(value), max(value), sum(value)"
            " FROM reading WHERE reading_id >= ?2 AND reading_id < ?3 GROUP BY 1, 2"
            " ON CONFLICT (channel_id, from_tick, ticks) DO UPDATE SET n = n + excluded.n, failed = failed + excluded.failed,"
            " low = min(coalesce(low, excluded.low), coalesce(excluded.low, low)),"
            " high = max(coalesce(high, excluded.high), coalesce(excluded.high, high)),"
            " total = coalesce(total + excluded.total, total, excluded.total)",
            (self._span_ticks, first << SEQ_BITS, (last + 1) << SEQ_BITS),
        )
