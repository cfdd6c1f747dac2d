"""A record as this schema writes it, kept as SQL text for the versions to come: ``python -m tests.record.old_schema``.

Every kind of row is in it. Run it once when a schema is new, before the next one is begun; a file that is there is never made
again, because the program that wrote it is gone.
"""

from __future__ import annotations

import sqlite3
import sys
import tempfile
from contextlib import closing
from pathlib import Path

from dryward.core.commands import Commands, Event, Reply
from dryward.core.inputs import Inputs, Notice, Reading, Request, Weigh, Weighing
from dryward.record.moments import (
    NoteWritten,
    PieceOut,
    PieceReached,
    PlanSettled,
    ScaleCalibration,
    StartPlanned,
    StepBegan,
)
from dryward.record.schema import newest
from tests.record.scene import PROGRAM, UTC_S, began, ended, event, put, writer

FOLDER = Path(__file__).parents[1] / "data" / "schema"
TICKS = 400


TOO_HOT = event(
    "The air was too hot.", severity="alarm", advice="Look.", meaning="It dries too fast.", value=float("nan")
)


def _marks(tick: int) -> list[object]:
    """Return what the service marks at this tick."""
    match tick:
        case 1:
            return [began(), StartPlanned(plan_id="p1", program=PROGRAM, at_utc_s=UTC_S + 9000.0, who="Ana")]
        case 150:
            step = StepBegan(run_id="r1", step_no=1, name="dry", why="an hour is over")
            return [PlanSettled(plan_id="p1", outcome="dropped by Ana"), step]
        case 200:
            reached = PieceReached(run_id="r1", piece="loin-a", weight_g=650.0, crossed_s=199.5)
            return [reached, PieceOut(run_id="r1", piece="loin-a", weight_g=648.0)]
        case 300:
            text, tags = "Kruste hart, mild – gut", ("tasting", "-thick")
            note = NoteWritten(run_id="r1", text=text, who="Ana", piece="loin-a", photo="cut.jpg", tags=tags)
            return [ended(loin_b=500.0), note]
        case 380:
            return [began("r2")]
    return []


def write_everything(path: Path) -> None:
    """Write a session with two runs, one complete and one cut off, and at least one row in every table."""
    cell = ScaleCalibration(scale="hook", calibration="hook-20251001", zero_count=-8123.25, g_per_count=0.0097)
    book = writer(path, start_state={"tick": -1}, scale_calibrations=(cell,))
    for tick in range(TICKS):
        told: tuple[Event, ...] = ()
        inputs, replies = Inputs(), ()
        if tick % 10 == 0:
            fault = "crc" if tick == 50 else ""
            value = None if fault else -0.0 if tick == 60 else 50.0 + tick / 100.0
            inputs = Inputs(
                readings=(Reading("air", value, tick - 0.125, fault), Reading("hook", 900.0 - tick, float(tick)))
            )
        if tick == 100:
            asked = Request(request_id="q1", ask=Weigh(piece="loin-a", weight_g=700.0), who="Ana")
            inputs = Inputs(requests=(asked,), weighings=(Weighing("loin-b", 600.0, 99.5),))
            replies = (Reply(request_id="q1", accepted=True, text="taken"),)
            told = (TOO_HOT,)
        if tick == 150:
            inputs = Inputs(notices=(Notice("clock-stepped", 3.0, "by hand"),))
        figures = {"air_setpoint_c": 50.0, "energy_kwh": tick / 1000.0} if tick % 60 == 0 else None
        on = frozenset({"fan", "heater"} if tick % 40 < 20 else {"fan"})
        if tick != 250:  # one tick was not executed
            put(book, tick, inputs, Commands(on=on, events=told, replies=replies), marks=_marks(tick), figures=figures)  # type: ignore[arg-type]
    put(book, TICKS, Inputs(weighings=(Weighing("loin-b", 1.0, 1.0), Weighing("loin-b", 1.0, "late"))))  # type: ignore[arg-type]
    assert book.close()
    with closing(sqlite3.connect(path)) as conn, conn:
        conn.execute("INSERT INTO lost (from_tick, to_tick, readings, why) VALUES (310, 320, 4, 'the disk was full')")


def as_sql(path: Path) -> str:
    """Return a record as SQL text, its schema's number at the end."""
    with closing(sqlite3.connect(path)) as conn:
        number = conn.execute("PRAGMA user_version").fetchone()[0]
        return "\n".join([*conn.iterdump(), f"PRAGMA user_version = {number};", ""])


def from_sql(text: str, path: Path) -> None:
    """Make a record from its text."""
    with closing(sqlite3.connect(path)) as conn:
        conn.executescript(text)


def main() -> int:
    target = FOLDER / f"{newest():04d}.sql"
    if target.exists():
        print(f"{target} is there; it stays as the program of its time wrote it", file=sys.stderr)
        return 1
    with tempfile.TemporaryDirectory() as folder:
        write_everything(Path(folder) / "r.db")
        target.parent.mkdir(exist_ok=True)
        target.write_text(as_sql(Path(folder) / "r.db"), encoding="utf-8")
    print(f"{target}: {target.stat().st_size / 1000:.0f} kB")
    return 0


if __name__ == "__main__":
    sys.exit(main())
