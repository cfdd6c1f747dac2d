"""Reads the record while the service writes it: one read-only connection, typed answers, iterators for replay."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from pathlib import Path
from types import TracebackType

from dryward.core.chamber import Chamber
from dryward.core.commands import Commands, Reply
from dryward.core.inputs import Inputs
from dryward.core.program import Piece, Program
from dryward.record import past
from dryward.record.checkpoint import from_json
from dryward.record.damage import Garbled
from dryward.record.lines import (
    Checkpoint,
    EventLine,
    FigureLine,
    NoSuchRun,
    NoteLine,
    PieceLine,
    Plan,
    ReadingLine,
    Run,
    RunLine,
    SpanLine,
    StepLine,
    Stretch,
    WeighInLine,
)
from dryward.record.moments import ScaleCalibration
from dryward.record.rows import whole
from dryward.record.schema import THINNED, schema_of

ReadError = sqlite3.Error
"""What reading a file raises that is no record, or damaged; for those who may not know what the record is made of."""


class Record:
    """The record for reading, of ``schema``. Use as a context manager; raises sqlite3.Error (NoRecord) when the file cannot be read."""

    def __init__(self, path: Path) -> None:
        self.path = Path(path)
        self._conn = open_readonly(self.path)
        try:
            self.schema = schema_of(self._conn)
        except BaseException:
            self.close()
            raise

    def __enter__(self) -> Record:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, value: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        self._conn.close()

    # ---- runs

    def runs(self) -> list[RunLine]:
        """Return all runs, the newest first."""
        return [
            RunLine(*row)
            for row in self._conn.execute(
                "SELECT run_id, program_name, start_tick, start_utc, end_tick, end_utc, end_state, end_reason,"
                " (SELECT count(*) FROM piece WHERE piece.run_id = run.run_id), (SELECT count(reached_tick) FROM piece WHERE piece.run_id = run.run_id),"
                " (SELECT sum(green_g) FROM piece WHERE piece.run_id = run.run_id), (SELECT sum(final_g) FROM piece WHERE piece.run_id = run.run_id)"
                " FROM run ORDER BY start_utc DESC, start_tick DESC"
            )
        ]

    def run(self, run_id: str) -> Run:
        """Return one run. Raises NoSuchRun, naming the newest ones there are."""
        last_tick = self._ends(run_id)[1]
        cursor = self._conn.execute(
            "SELECT run.*, s.chamber, s.period_s FROM run JOIN session AS s USING (session_id) WHERE run_id = ?",
            (run_id,),
        )
        found = dict(zip((c[0] for c in cursor.description), cursor.fetchone(), strict=True))
        return Run(
            run_id=run_id,
            program=from_json(Program, found["program"]),
            pieces=from_json(tuple[Piece, ...], found["pieces"]),
            chamber=from_json(Chamber, found["chamber"]),
            period_s=found["period_s"],
            start_tick=found["start_tick"],
            start_utc=found["start_utc"],
            end_tick=found["end_tick"],
            end_utc=found["end_utc"],
            end_state=found["end_state"],
            end_reason=found["end_reason"],
            last_tick=last_tick,
            start_state=found["start_state"],
        )

    def pieces(self, run_id: str) -> list[PieceLine]:
        """Return the pieces of a run in the order they were loaded."""
        return [
            PieceLine(*row)
            for row in self._conn.execute(
                f"SELECT {', '.join(PieceLine._fields)} FROM piece WHERE run_id = ? ORDER BY piece_no", (run_id,)
            )
        ]

    def steps(self, run_id: str) -> list[StepLine]:
        """Return the steps of a run that began."""
        return [
            StepLine(*row)
            for row in self._conn.execute(
                f"SELECT {', '.join(StepLine._fields)} FROM run_step WHERE run_id = ? ORDER BY step_no", (run_id,)
            )
        ]

    def plans(self) -> list[Plan]:
        """Return planned starts, settled or not, by their time."""
        rows = self._conn.execute("SELECT plan_id, program, at_utc, who, outcome FROM planned_start ORDER BY at_utc")
        return [Plan(plan_id, from_json(Program, program), *rest) for plan_id, program, *rest in rows]

    # ---- what was measured and told in a run

    def readings(self, run_id: str, channel: str) -> list[ReadingLine]:
        """Return every reading of a sensor or scale in a run."""
        rows = self._conn.execute(
            "SELECT tick, sampled_s, value, fault, value_odd FROM reading JOIN channel USING (channel_id) LEFT JOIN reading_note USING (note_id)"
            " WHERE reading_id >= ? AND reading_id < ? AND name = ? AND kind <> 'figure' ORDER BY reading_id",
            (*past.reading_ids(*self._ends(run_id)), channel),
        )
        return [
            ReadingLine(tick, past.number(sampled_s), whole(value, word), fault or "")
            for tick, sampled_s, value, fault, word in rows
        ]

    def values(self, channel: str, first: int, last: int) -> list[tuple[int, float]]:
        """Return (tick, value) of the good readings of a sensor or scale in these ticks."""
        return self._conn.execute(
            "SELECT tick, value FROM reading WHERE reading_id >= ? AND reading_id < ? AND value IS NOT NULL"
            " AND channel_id = (SELECT channel_id FROM channel WHERE name = ? AND kind <> 'figure') ORDER BY reading_id",
            (*past.reading_ids(first, last), channel),
        ).fetchall()

    def spans(self, run_id: str, channel: str) -> list[SpanLine]:
        """Return low, mean and high of a channel for each five minutes of a run: quick, whatever its length."""
        first, last = self._ends(run_id)
        return [
            SpanLine(*row)
            for row in self._conn.execute(
                "SELECT from_tick, ticks, n, failed, low, total / nullif(n, 0), high FROM span JOIN channel USING (channel_id)"
                " WHERE name = ? AND kind <> 'figure' AND from_tick > ? - ticks AND from_tick <= ? ORDER BY from_tick",
                (channel, first, last),
            )
        ]

    def figures(self, run_id: str, name: str = "") -> list[FigureLine]:
        """Return what the engine computed (setpoints, duty, weights), one figure or all, in order of time."""
        rows = self._conn.execute(
            "SELECT tick, name, value FROM figure JOIN channel USING (channel_id)"
            " WHERE tick BETWEEN ? AND ? AND value IS NOT NULL AND (?3 = '' OR name = ?3) ORDER BY tick",
            (*self._ends(run_id), name),
        )
        return [FigureLine(*row) for row in rows]

    def figure_means(self, run_id: str, parts: int) -> dict[str, list[tuple[int, float, float]]]:
        """Return (part, mean, last) of every figure in each of so many equal parts of a run; parts without a row are left out."""
        first, last = self._ends(run_id)
        found: dict[str, list[tuple[int, float, float]]] = {}
        rows = self._conn.execute(
            "SELECT channel_id, (tick - ?1) * ?3 / (?2 - ?1 + 1) AS part, avg(value), value, max(tick) FROM figure"
            " WHERE tick BETWEEN ?1 AND ?2 AND value IS NOT NULL GROUP BY channel_id, part ORDER BY channel_id, part",
            (first, last, parts),
        )
        names = dict(self._conn.execute("SELECT channel_id, name FROM channel").fetchall())
        for channel, part, mean, value, _ in rows:
            found.setdefault(names[channel], []).append((part, mean, value))
        return found

    def figure_at(self, name: str, first: int, tick: int) -> tuple[int, float] | None:
        """Return (tick, value) of a figure as it held at ``tick``; None when it was not told from ``first`` on. Quick in a long run."""
        channel = self._conn.execute(
            "SELECT channel_id FROM channel WHERE kind = 'figure' AND name = ?", (name,)
        ).fetchone()
        if channel is None:
            return None
        found: tuple[int, float] | None = self._conn.execute(
            "SELECT tick, value FROM figure WHERE tick BETWEEN ? AND ? AND channel_id = ? AND value IS NOT NULL ORDER BY tick DESC LIMIT 1",
            (first, tick, *channel),
        ).fetchone()
        return found

    def totals(self, run_id: str) -> dict[str, float]:
        """Return the last value of what is counted up in a run: ``energy_kwh`` and ``OUTPUT_operations``."""
        rows = self._conn.execute(
            "SELECT name, value, max(tick) FROM figure JOIN channel USING (channel_id) WHERE tick BETWEEN ? AND ?"
            " AND channel_id IN (SELECT channel_id FROM channel WHERE kind = 'figure' AND (name = 'energy_kwh' OR name GLOB '*_operations')) GROUP BY channel_id",
            self._ends(run_id),
        )
        return {name: value for name, value, _ in rows}

    def events(self, run_id: str) -> list[EventLine]:
        """Return the events of a run in order."""
        first, last = self._ends(run_id)
        utc = dict(
            self._conn.execute("SELECT tick, utc FROM event WHERE tick BETWEEN ? AND ?", (first, last)).fetchall()
        )
        return [EventLine(tick, utc[tick], event) for tick, event in past.events(self._conn, first, last)]

    def weighings(self, run_id: str) -> list[WeighInLine]:
        """Return every accepted weight of a run."""
        rows = self._conn.execute(
            "SELECT tick, piece, weight_g, who, via FROM weigh_in WHERE tick BETWEEN ? AND ? ORDER BY tick",
            self._ends(run_id),
        )
        return [WeighInLine(*row) for row in rows]

    def output_changes(self, run_id: str) -> list[tuple[int, str, bool]]:
        """Return (tick, output, on) of every switching in a run, and first the state it found."""
        first, last = self._ends(run_id)
        before = [(first, name, True) for name in sorted(past.on_before(self._conn, first))]
        rows = self._conn.execute(
            "SELECT tick, output, is_on FROM output_change WHERE tick BETWEEN ? AND ? ORDER BY tick, output",
            (first, last),
        )
        return before + [(tick, output, bool(is_on)) for tick, output, is_on in rows]

    def anchors(self, run_id: str) -> list[tuple[int, float]]:
        """Return (tick, POSIX seconds) pairs by which the ticks of a run are turned into wall time; never empty for a run."""
        first, last = self._ends(run_id)
        return self._conn.execute(
            "SELECT tick, utc_s FROM clock WHERE tick >= coalesce((SELECT max(tick) FROM clock WHERE tick <= ?), 0) AND tick <= ? ORDER BY tick",
            (first, last),
        ).fetchall()

    def lost(self, run_id: str) -> int:
        """Return how many readings of a run could not be kept; if any, it cannot be replayed exactly."""
        first, last = self._ends(run_id)
        rows = self._conn.execute(
            "SELECT coalesce(sum(readings), 0) FROM lost WHERE from_tick <= ? AND to_tick >= ? AND why <> ?",
            (last, first, THINNED),
        )
        return int(rows.fetchone()[0])

    def thinned(self, run_id: str) -> bool:
        """Tell whether single readings of a run were given up after a year; then it can be reviewed but not replayed."""
        return (
            self._conn.execute(
                "SELECT 1 FROM lost WHERE why = ? AND to_tick >= ?", (THINNED, self._ends(run_id)[0])
            ).fetchone()
            is not None
        )

    def tick_at(self, utc_s: float) -> int | None:
        """Return the last tick before a wall time, None when the record begins later."""
        row = self._conn.execute(
            "SELECT tick, utc_s, period_s FROM clock JOIN session USING (session_id) WHERE utc_s <= ? ORDER BY tick DESC LIMIT 1",
            (utc_s,),
        ).fetchone()
        return None if row is None else row[0] + int((utc_s - row[1]) / row[2])

    def notes(self, run_id: str = "") -> list[NoteLine]:
        """Return what people wrote, of one run or of all, in the order it was written."""
        rows = self._conn.execute(
            "SELECT run_id, piece, utc, who, text, photo, tags FROM note WHERE ?1 = '' OR run_id = ?1 ORDER BY note_id",
            (run_id,),
        )
        return [NoteLine(*row) for row in rows]

    def scale_calibrations(self, run_id: str) -> list[tuple[int, ScaleCalibration]]:
        """Return by what each scale's counts were weighed in a run, each with the tick from which it held."""
        first, last = self._ends(run_id)
        if not self._conn.execute("SELECT 1 FROM sqlite_master WHERE name = 'scale_calibration'").fetchone():
            return []  # a file of schema 1, which no daemon has written into since
        rows = self._conn.execute(
            "SELECT first_tick, scale, calibration, zero_count, g_per_count FROM scale_calibration JOIN session USING (session_id)"
            " WHERE first_tick <= ? AND last_tick >= ? ORDER BY first_tick, scale",
            (last, first),
        )
        return [
            (max(first, tick), ScaleCalibration(scale=scale, calibration=name, zero_count=zero, g_per_count=per_count))
            for tick, scale, name, zero, per_count in rows
        ]

    def raw_counts(self, run_id: str, scale: str) -> list[tuple[int, int, float, str]]:
        """Return tick, raw count, weight in g and calibration of each weight of a scale that a load cell gave."""
        if not self.scale_calibrations(run_id):
            return []
        rows = self._conn.execute(
            "SELECT tick, counts, weight_g, calibration FROM raw_count WHERE scale = ? AND tick BETWEEN ? AND ? ORDER BY tick",
            (scale, *self._ends(run_id)),
        )
        return rows.fetchall()

    # ---- replay

    def stretches(self, run_id: str) -> list[Stretch]:
        """Return the sessions a run went through; replay takes up ``start_state`` at the beginning of each."""
        return past.stretches(self._conn, self.run(run_id))

    def inputs(self, run_id: str) -> Iterator[tuple[int, Inputs]]:
        """Yield (tick, inputs) for every tick of a run that was executed, with empty inputs where there were none."""
        return past.inputs(self._conn, self.stretches(run_id))

    def decisions(self, run_id: str) -> Iterator[tuple[int, Commands]]:
        """Yield (tick, commands) for every executed tick. ``keep`` is not recorded and always False."""
        return past.decisions(self._conn, self.stretches(run_id))

    # ---- the service

    def latest_checkpoint(self) -> Checkpoint | None:
        """Return the newest engine state, None when there is none yet."""
        row = self._conn.execute(
            "SELECT tick, state, boot_id, boottime_s, utc_s, synchronised FROM checkpoint ORDER BY session_id DESC, tick DESC LIMIT 1"
        ).fetchone()
        if row is None:
            return None
        return Checkpoint(
            tick=row[0], state=row[1], boot_id=row[2], boottime_s=row[3], utc_s=row[4], synchronised=bool(row[5])
        )

    def check_open(self) -> None:
        """Read the ends of the big tables, so that gross damage shows now. Raises sqlite3.DatabaseError."""
        for table in self._conn.execute("SELECT name FROM sqlite_master WHERE type = 'table'").fetchall():
            self._conn.execute(f"SELECT * FROM {table[0]} LIMIT 1").fetchone()
        self._conn.execute("SELECT max(reading_id) FROM reading").fetchone()

    def last_tick(self) -> int:
        """Return the last durable tick of the whole record, -1 when there is none; a new session must begin above it."""
        return int(self._conn.execute("SELECT coalesce(max(last_tick), -1) FROM session").fetchone()[0])

    def reply_to(self, request_id: str) -> Reply | None:
        """Return the answer a request got, so that a request sent twice is carried out once."""
        row = self._conn.execute(
            "SELECT request_id, accepted, text FROM reply WHERE request_id = ? ORDER BY tick LIMIT 1", (request_id,)
        ).fetchone()
        return None if row is None else Reply(request_id=row[0], accepted=bool(row[1]), text=row[2])

    def _ends(self, run_id: str) -> tuple[int, int]:
        """Return first and last tick of a run; one without an end goes to the next run, or to what is known last."""
        row = self._conn.execute(
            "SELECT start_tick, coalesce(end_tick, (SELECT min(n.start_tick) - 1 FROM run AS n WHERE n.start_tick > run.start_tick)) FROM run WHERE run_id = ?",
            (run_id,),
        ).fetchone()
        if row is None:
            known = ", ".join(
                r[0] for r in self._conn.execute("SELECT run_id FROM run ORDER BY start_utc DESC LIMIT 5")
            )
            raise NoSuchRun(
                f"no run '{run_id}' in {self.path}; "
                + (f"the newest are: {known}" if known else "there are no runs in it yet")
            )
        return row[0], row[1] if row[1] is not None else self.last_tick()


def open_readonly(path: Path) -> sqlite3.Connection:
    """Open the record for reading beside its writer. Raises FileNotFoundError or sqlite3.Error.

    Ask and close: a connection opened while nobody wrote does not see what is written later.
    """
    if not path.exists():
        raise FileNotFoundError(f"there is no record at {path}: has the daemon run here yet?")
    # Where no log lies beside the file, nobody has it open; then it is read as it stands. An ordinary connection would
    # leave a log and an index behind, which belong to whoever reads and which the daemon might not be able to write.
    quiet = not any(Path(f"{path}{ending}").exists() for ending in ("-wal", "-journal"))
    return connect(path, "immutable=1" if quiet else "mode=ro")


def connect(path: Path, how: str) -> sqlite3.Connection:
    """Open a file with these words of SQLite's URI and read its schema. Raises sqlite3.Error, Garbled where that is no text."""
    conn = sqlite3.connect(f"{path.absolute().as_uri()}?{how}", uri=True, timeout=5.0)
    try:
        conn.execute("SELECT count(*) FROM sqlite_master").fetchone()
    except UnicodeDecodeError as why:
        conn.close()
        raise Garbled("its schema is damaged") from why
    except BaseException:
        conn.close()
        raise
    return conn
