"""The wall clock of the running service steps to and fro (F19); control must not notice, planned starts must.

The steps are made by ``wallclock.c``, which shifts only what the process is told of the wall clock. A second service
runs beside it without steps, so that what a busy machine does to both is not held against the first.
"""

from __future__ import annotations

import mmap
import os
import struct
import subprocess
import threading
from collections.abc import Iterator
from contextlib import ExitStack
from itertools import pairwise
from pathlib import Path
from time import monotonic, time
from typing import NamedTuple

import pytest

from tests.faults_live.stand import PIECES, PROGRAM, Service, Stand, Word, until, waited_s, write_chamber

SPEED = 2  # half a second a tick: twice as many ticks to look at
TICK_S = 1.0 / SPEED
WATCH_S = 4.0  # after each step
STARTED_WITHIN_S = 8.0
HOUR_S, DAY_S = 3600.0, 86_400.0
YEAR_S = 365.0 * DAY_S


class WallClock:
    """The shift of one service's wall clock."""

    def __init__(self, folder: Path) -> None:
        library, self._file = folder / "wallclock.so", folder / "shift"
        source = Path(__file__).with_name("wallclock.c")
        subprocess.run(["cc", "-shared", "-fPIC", "-O2", "-Wall", "-Werror", "-o", library, source, "-ldl"], check=True)
        self._file.write_bytes(bytes(8))
        with self._file.open("r+b") as file:
            self._map = mmap.mmap(file.fileno(), 8)
        self.shift_s = 0.0
        self.environ = {"LD_PRELOAD": str(library), "WALLCLOCK_SHIFT": str(self._file)}

    def step(self, by_s: float) -> None:
        self.shift_s += by_s
        struct.pack_into("q", self._map, 0, round(self.shift_s * 1e9))

    def now_s(self) -> float:
        return time() + self.shift_s


class Ticks(NamedTuple):
    """What the words to the watchdog tell of a loop: one word a whole turn."""

    executed: int
    missed: int
    late_p99_s: float


def ticks(words: list[Word]) -> Ticks:
    """Lateness is counted from the line on which the earliest words lie, less what a word waited for a processor."""
    pings = [w.at_s for w in words]
    numbers = [round((p - pings[0]) / TICK_S) for p in pings]
    lags = [p - n * TICK_S for p, n in zip(pings, numbers, strict=True)]
    others = [0.0, *(b.waited_s - a.waited_s for a, b in pairwise(words))]
    late = sorted(max(0.0, lag - min(lags) - other) for lag, other in zip(lags, others, strict=True))
    missed = sum(b - a - 1 for a, b in pairwise(numbers))
    return Ticks(len(pings), missed, late[int(0.99 * (len(late) - 1))])


def cpu_s(service: Service) -> float:
    fields = Path(f"/proc/{service.process.pid}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def resident_mb(service: Service) -> float:
    status = Path(f"/proc/{service.process.pid}/status").read_text()
    return int(status.split("VmRSS:")[1].split()[0]) / 1024.0


@pytest.fixture
def pair(tmp_path: Path) -> Iterator[tuple[Stand, Stand, WallClock]]:
    """Two services, the first with a wall clock of its own."""
    with ExitStack() as stack:
        for name in ("stepped", "steady"):
            write_chamber(tmp_path / name)
        clock = WallClock(tmp_path)
        stepped = stack.enter_context(Stand(tmp_path / "stepped", args=("--speed", str(SPEED)), environ=clock.environ))
        steady = stack.enter_context(Stand(tmp_path / "steady", args=("--speed", str(SPEED))))
        yield stepped, steady, clock


def plan(stand: Stand, at_utc_s: float) -> None:
    answer = stand.say({"ask": {"verb": "start", "program": PROGRAM, "run_id": ""}, "at_utc_s": at_utc_s})
    assert answer["accepted"], answer


def planned(stand: Stand) -> int:
    return len(stand.status()["planned"])


def test_the_wall_clock_may_step_as_it_likes(
    pair: tuple[Stand, Stand, WallClock], capsys: pytest.CaptureFixture[str]
) -> None:
    stepped, steady, clock = pair
    services = [stand.start_ready() for stand in (stepped, steady)]
    watch = threading.Event().wait
    for stand in (stepped, steady):
        stand.wanted("load", pieces=PIECES)
    steady.wanted("start", program=PROGRAM, run_id="")
    watch(3.0)
    memory_mb, used_s, began_s = [resident_mb(s) for s in services], [cpu_s(s) for s in services], monotonic()

    plan(stepped, clock.now_s() + 125.0)
    for by_s in (1.0, -1.0):
        clock.step(by_s)
        watch(WATCH_S)
    assert planned(stepped) == 1
    clock.step(120.0)  # now the start is due in some seconds, and the scheduler has to notice
    until(lambda: stepped.status()["run"]["phase"] == "running", within_s=STARTED_WITHIN_S, what="the planned start")
    clock.step(-120.0)
    watch(WATCH_S)

    plan(stepped, clock.now_s() + HOUR_S + 3.0)
    clock.step(HOUR_S)
    until(
        lambda: planned(stepped) == 0,
        within_s=STARTED_WITHIN_S,
        what="the second start is due: refused, one run at a time",
    )
    plan(stepped, clock.now_s() + 2.0)
    clock.step(-HOUR_S)  # it is an hour early again
    watch(WATCH_S)
    assert planned(stepped) == 1
    clock.step(7 * DAY_S)  # nobody wants a start that is a week late
    until(lambda: planned(stepped) == 0, within_s=STARTED_WITHIN_S, what="the third start is missed")
    for by_s in (YEAR_S, -10 * YEAR_S):
        clock.step(by_s)
        watch(2 * WATCH_S)

    seen, base = (
        ticks([w for w in stand.turns(s) if w.at_s >= began_s]) for stand, s in zip(pair[:2], services, strict=True)
    )
    grown_mb = [resident_mb(s) - before for s, before in zip(services, memory_mb, strict=True)]
    share = [(cpu_s(s) - before) / (monotonic() - began_s) for s, before in zip(services, used_s, strict=True)]
    with capsys.disabled():
        print(f"\n{'':<9}{'ticks':>6}{'missed':>8}{'late p99 ms':>13}{'grown MB':>10}{'CPU %':>7}")
        for name, t, mb, cpu in zip(("stepped", "steady"), (seen, base), grown_mb, share, strict=True):
            print(f"{name:<9}{t.executed:>6}{t.missed:>8}{1000 * t.late_p99_s:>13.1f}{mb:>10.2f}{100 * cpu:>7.1f}")
    others = int(waited_s(services[0].process.pid) / TICK_S)  # whole ticks for which it got no processor
    assert seen.missed <= base.missed + others
    assert seen.late_p99_s <= 0.020 + base.late_p99_s
    assert grown_mb[0] <= 5.0
    assert share[0] <= 0.10 + 1.5 * share[1]  # a scheduler that counts a year of missed runs would take a whole core
    status = stepped.status()
    assert (status["run"]["phase"], stepped.trips()) == ("running", set())
    assert stepped.journal().count("the wall clock stepped") == 9 - 2  # a second to and fro is less than it looks for
    assert "missed: it was noticed" in stepped.journal()
