"""What the record costs: time per commit, growth, size of a month, lists, reviews, replay. Run: python -m tests.bench.record [DAYS].

An invented month: 12 pieces, ten channels at 10 s (8 sensors, 2 scales), ticks of 1 s, 500 short runs before it.
"""

from __future__ import annotations

import random
import resource
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import replace
from pathlib import Path

from dryward.core.chamber import Chamber, Scale, Sensor
from dryward.core.commands import Commands, Event
from dryward.core.inputs import NOTHING, Inputs, Reading
from dryward.core.program import Piece
from dryward.record.keeping import forecast
from dryward.record.moments import Mark, RunBegan, RunEnded, Session
from dryward.record.queries import Record
from dryward.record.review import gather, judge
from dryward.record.review_text import as_text
from dryward.record.writer import RecordWriter
from tests.record.scene import CHAMBER, PROGRAM, ToyState, stamp

ROLES = ("control-air", "limit-air", "core", "humidity", "ambient", "ambient-humidity", "scale-temperature", "door")
MONTH = Chamber(
    name="bench",
    sensors=tuple(Sensor(name=role, role=role, device="d") for role in ROLES),  # type: ignore[arg-type]
    scales=(Scale(name="hook-1", device="d"), Scale(name="hook-2", device="d")),
)
CHANNELS = (*ROLES, "hook-1", "hook-2")
PIECES = tuple(Piece(name=f"piece-{n}", green_g=800.0 + 10.0 * n) for n in range(12))
EVERY = 10
FORETOLD = (("finish_s", 90_000.0), ("finish_lo_s", 60_000.0), ("finish_hi_s", 200_000.0))  # anew each 20 minutes


@contextmanager
def timed(what: str) -> Iterator[None]:
    began = time.perf_counter()
    yield
    print(f"{what}: {(time.perf_counter() - began) * 1000.0:.0f} ms")


def tick_of_month(tick: int, chance: random.Random) -> tuple[Inputs, Commands, dict[str, float] | None]:
    inputs = NOTHING
    if tick % EVERY == 0:
        inputs = Inputs(
            readings=tuple(
                Reading(name, round(50.0 + chance.gauss(0.0, 0.7), 2), tick - chance.random()) for name in CHANNELS
            )
        )
    on = frozenset({"fan", "heater"} if tick % 80 < 30 else {"fan"})
    events = (Event(kind="bench", text="An hour has passed in the bench; all is well."),) if tick % 3600 == 0 else ()
    figures = (
        {
            "air_setpoint_c": 50.0,
            "energy_kwh": tick / 8000.0,
            **{f"weight_g:{p.name}": p.green_g - tick / 9000.0 for p in PIECES},
            **{f"{name}:{p.name}": tick // 1200 * 1200.0 + ahead for p in PIECES for name, ahead in FORETOLD},
        }
        if tick % 60 == 0
        else None
    )
    return inputs, Commands(on=on, events=events), figures


def write_month(path: Path, days: int) -> None:
    """Write the month in commits of ten seconds each, as the daemon does, and print what they cost."""
    chance, costs = random.Random(1), []
    first, last = 1_000_000, 1_000_000 + days * 86_400
    book = RecordWriter(
        path,
        Session(chamber=MONTH, first_tick=first, stamp=stamp(first)),
        threaded=False,
        commit_s=1e9,
        batch_readings=10**9,
    )
    size = path.stat().st_size
    sizes = []
    for tick in range(first, last + 1):
        inputs, commands, figures = tick_of_month(tick, chance)
        marks: tuple[Mark, ...] = (
            (RunBegan(run_id="month", program=replace(PROGRAM, cap_h=900.0), pieces=PIECES, state_before=ToyState(0)),)
            if tick == first
            else ()
        )
        if tick == last:
            marks = (RunEnded(run_id="month", end_state="complete", end_reason="every piece has reached its target"),)
        book.put(tick, stamp(tick), inputs, commands, ToyState(tick), marks=marks, figures=figures)
        if tick % 10 == 0 and (tick - first < 36_000 or tick == last):
            began = time.perf_counter()
            book.flush()
            costs.append(time.perf_counter() - began)
        elif tick % 3600 == 0:
            book.flush()
        if (tick - first) % 86_400 == 86_399:
            sizes.append(_used(path))
    assert book.close()
    print(
        f"commit of 10 s: median {statistics.median(costs) * 1000:.2f} ms, 99 % {sorted(costs)[len(costs) * 99 // 100] * 1000:.2f} ms over {len(costs)}"
    )
    growth = [(b - a) / 1e6 for a, b in zip([size, *sizes], sizes, strict=False)]
    print(
        f"growth a day: {', '.join(f'{g:.2f}' for g in growth[:3])} ... {growth[-1]:.2f} MB (linear within {100 * (max(growth[1:]) / min(growth[1:]) - 1):.1f} %)"
        if len(growth) > 2
        else growth
    )


def _used(path: Path) -> int:
    with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as conn:
        return int(conn.execute("SELECT page_count * page_size FROM pragma_page_count, pragma_page_size").fetchone()[0])


def write_runs(path: Path, count: int) -> None:
    book = RecordWriter(path, Session(chamber=CHAMBER, first_tick=0, stamp=stamp(0)), threaded=False, commit_s=1e9)
    for number in range(count):
        run_id = f"run-{number}"
        book.put(
            1000 * number,
            stamp(1000 * number),
            NOTHING,
            Commands(),
            None,
            marks=(RunBegan(run_id=run_id, program=PROGRAM, pieces=PIECES),),
        )
        book.put(
            1000 * number + 900,
            stamp(1000 * number + 900),
            NOTHING,
            Commands(),
            None,
            marks=(RunEnded(run_id=run_id, end_state="stopped", end_reason="bench"),),
        )
    assert book.close()


def rehearsal_cost() -> None:
    """A demo's load: 56,000 ticks with eight readings each, all through one writer without a thread."""
    chance = random.Random(2)
    told = [
        Inputs(readings=tuple(Reading(name, 50.0 + chance.random(), tick * 5.0 - 0.5) for name in ROLES))
        for tick in range(56_000)
    ]
    with tempfile.TemporaryDirectory() as folder:
        book = RecordWriter(
            Path(folder) / "r.sqlite",
            Session(chamber=replace(MONTH, period_s=5.0), first_tick=0, stamp=stamp(0)),
            threaded=False,
        )
        began = time.process_time()
        for tick, inputs in enumerate(told):
            book.put(tick, stamp(tick), inputs, Commands(keep=tick % 500 == 0), ToyState(tick))
        book.close()
        print(
            f"rehearsal of 56,000 ticks x 8 readings: {time.process_time() - began:.2f} s of processor time in the record"
        )


def runs_command(path: Path) -> None:
    """What somebody waits for who types ``dryward runs``, the start of the interpreter included. Goal: 150 ms."""
    walls, used = [], []
    for _ in range(7):
        began, before = time.perf_counter(), resource.getrusage(resource.RUSAGE_CHILDREN)
        command = [sys.executable, "-m", "dryward", "runs", "--record", str(path)]
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        walls.append(time.perf_counter() - began)
        used.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    print(
        f"command 'dryward runs' over 501 runs: median {statistics.median(walls) * 1000:.0f} ms, "
        f"{statistics.median(used) * 1000:.0f} ms of processor; goal 150 ms"
    )


def main() -> None:
    days = int(sys.argv[1]) if len(sys.argv) > 1 else 30
    rehearsal_cost()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "r.sqlite"
        write_runs(path, 500)
        write_month(path, days)
        print(
            f"{days} days: {path.stat().st_size / 1e6:.1f} MB; forecast {(forecast(path).per_day or 0.0) / 1e6:.2f} MB a day"
        )
        with timed("open and list 501 runs"), Record(path) as record:
            assert len(record.runs()) == 501
        runs_command(path)
        with Record(path) as record:
            with timed("review of the month: facts"):
                facts = gather(record, "month")
            with timed("review of the month: verdict and text"):
                as_text(judge(facts))
            with timed("inputs of the month for replay"):
                ticks = sum(1 for _ in record.inputs("month"))
            assert ticks == days * 86_400 + 1
            with timed("decisions of the month"):
                sum(1 for _ in record.decisions("month"))
    print(f"memory at its highest: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")


if __name__ == "__main__":
    main()
