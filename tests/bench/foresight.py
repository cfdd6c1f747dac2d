"""What looking ahead costs: ``python -m tests.bench.foresight``.

``tick``: the time of a whole loop tick (devices, engine, record) without and with the forecaster beside it, which asks its child
without a pause here (in the service it rests 20 times as long). ``rows``: the time of a forecast against the number of weighings.
"""

from __future__ import annotations

import tempfile
import time
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from math import exp
from pathlib import Path
from statistics import median
from typing import Any

from dryward.core.inputs import Ask, Load, Request, Start
from dryward.core.layout import lay_out
from dryward.core.state import first_state
from dryward.record.moments import Session
from dryward.record.writer import RecordWriter
from dryward.science.forecast import PieceLog, forecast
from dryward.science.pace import AirAt
from dryward.service import outlook as module
from dryward.service.clock import FastClock
from dryward.service.fast import with_period
from dryward.service.hands import SimulatedHands
from dryward.service.loop import Loop
from dryward.service.outlook import Forecaster
from dryward.service.wiring import Devices, channels, lines
from dryward.settings import read_pieces, read_program, read_settings
from dryward.settings.starter import starter_files
from dryward_hardware.keeper.in_process import InProcessKeeper

PERIOD_S = 5.0
BEFORE_H = 30.0
PAUSE_S = 0.02
"""Between two ticks: many more than in the service, so that many meet a forecast."""

MOST_TICKS = 5000


@dataclass(frozen=True, slots=True)
class Cost:
    """Median and worst time of a tick, ms; how many forecasts were made beside them."""

    alone_ms: float
    beside_ms: float
    worst_alone_ms: float
    worst_beside_ms: float
    forecasts: int

    @property
    def added_ms(self) -> float:
        return self.beside_ms - self.alone_ms


@contextmanager
def running(folder: Path) -> Iterator[tuple[Loop, FastClock, Path, Any]]:
    """A simulated run, 30 h old, with four pieces on cells and a record that a thread writes."""
    for name, text in starter_files("twin").items():
        (folder / name).write_text(text)
    settings = read_settings(folder / "chamber.toml")
    chamber = with_period(settings.chamber, PERIOD_S)
    layout, devices, record = lay_out(chamber), Devices(settings), folder / "record.db"
    clock = FastClock(first_tick=1, period_s=PERIOD_S, utc_s=float(int(time.time())))
    outputs = devices.simulated_outputs()
    assert outputs is not None
    loop = Loop(
        layout=layout,
        state=first_state(layout),
        clock=clock,
        source=devices.source,
        channels=channels(chamber),
        hands=SimulatedHands(InProcessKeeper(outputs, lines(chamber), lease_s=3.0 * PERIOD_S)),
        writer=RecordWriter(record, Session(chamber=chamber, first_tick=1, stamp=clock.stamp(), version="bench")),
    )
    try:
        pieces = read_pieces(folder / "batch.toml", settings.chamber)
        asks: tuple[Ask, ...] = (Load(pieces=pieces), Start(program=read_program(folder / "program.toml"), run_id="r"))
        for ask in asks:
            loop.post(Request(request_id=str(uuid.uuid4()), ask=ask, who="bench", origin="rehearsal"))
        loop.turn(clock.next_tick() or 1)
        devices.hang(pieces)
        while loop.view.state.now < BEFORE_H * 3600.0:
            loop.turn(clock.next_tick() or 1)
        yield loop, clock, record, settings
    finally:
        loop.close()


def tick(*, blocks: int, ticks: int) -> Cost:
    """Measure blocks of ticks, alone and beside the forecaster in turn."""
    alone: list[float] = []
    beside: list[float] = []
    made: list[float] = []
    with tempfile.TemporaryDirectory() as folder, running(Path(folder)) as (loop, clock, record, settings):
        assert loop.writer is not None
        loop.writer.flush()
        kept = module.EVERY_S, module.REST, module.LOOK_S
        module.EVERY_S, module.REST, module.LOOK_S = -1.0, 0.0, 0.001
        try:
            for _ in range(blocks):
                _measure(loop, clock, alone, ticks)
                so_far = len(made)
                forecaster = Forecaster(
                    loop.layout, record, settings.alerts, view=lambda: loop.view, flush=lambda: None,
                    tell=loop.tell, show=lambda figures: made.append(len(figures)), settles_s=0.0,
                )  # fmt: skip
                forecaster.start()
                try:
                    _measure(loop, clock, beside, ticks)
                    while len(made) == so_far and len(beside) < MOST_TICKS:  # a busy machine
                        _measure(loop, clock, beside, ticks)
                finally:
                    forecaster.close()
        finally:
            module.EVERY_S, module.REST, module.LOOK_S = kept
    return Cost(median(alone), median(beside), max(alone), max(beside), len(made))


def _measure(loop: Loop, clock: FastClock, into: list[float], ticks: int) -> None:
    for _ in range(ticks):
        time.sleep(PAUSE_S)
        began = time.perf_counter()
        loop.turn(clock.next_tick() or 1)
        into.append(1000.0 * (time.perf_counter() - began))


def rows(number: int) -> float:
    """Return the time of a forecast of one piece with so many weighings and as many readings of the air, s; the best of three."""
    times = [40.0 * 3600.0 * k / number for k in range(number)]
    log = PieceLog(
        piece="a",
        green_g=1000.0,
        target_g=650.0,
        weighings=[(t, round(1000.0 - 300.0 * (1.0 - exp(-t / 1e5)), 1)) for t in times],
        airs=[AirAt(t_s=t, air_c=80.0 if t < 24 * 3600.0 else 70.0, rh_pct=20.0) for t in times],
    )
    best = 1e9
    for _ in range(3):
        began = time.perf_counter()
        forecast([log])
        best = min(best, time.perf_counter() - began)
    return best


def main() -> None:
    cost = tick(blocks=6, ticks=200)
    print(
        f"a loop tick, 1200 times each: alone {cost.alone_ms:.2f} ms, beside the forecaster {cost.beside_ms:.2f} ms (median)"
    )
    print(f"  added {cost.added_ms:+.2f} ms (goal 2); worst {cost.worst_alone_ms:.1f} and {cost.worst_beside_ms:.1f} ms; {cost.forecasts} forecasts were made meanwhile")  # fmt: skip
    few = rows(1000)
    for number in (100, 1000, 10_000, 100_000):
        took = rows(number)
        print(f"a forecast from {number:6} weighings of a piece: {took:.3f} s, {took / few:.1f} times that from 1000 (goal for 10,000: at most 10)")  # fmt: skip


if __name__ == "__main__":
    main()
