"""``python -m tests.bench.soak [--hours 72] [--speed 150]``: the memory of the real service over days, in fast time.

The service runs the simulated dryer; batches follow each other, weights are entered, the run is held and resumed, the
status is asked for, as people do it, so that everything that could pile up has its turn. Memory is looked at every quarter
of a chamber hour; the slope is that of a straight line through what comes after the first sixth (caches fill). Two
figures: all resident pages, and the anonymous ones alone (the heap, without mapped files). The goal: both below 1 MB a day.
What follows the wall clock (nightly care, the daily summary) is not made faster and has no turn here.
"""

from __future__ import annotations

import argparse
import os
import signal
import sqlite3
import sys
import tempfile
from contextlib import closing
from pathlib import Path
from statistics import linear_regression
from threading import Event
from time import monotonic
from typing import Any

from dryward.doors.wire import Unreachable
from tests.faults_live.stand import Stand, write_chamber

MOST_MB_A_DAY = 1.0
LOOK_H = 0.25
WARM_SHARE = 1.0 / 6.0
DAY_H = 24.0
PROGRAM = {
    "name": "soak",
    "cap_h": 40.0,
    "steps": [
        {"name": "first", "air_c": 70.0, "band_k": 3.0, "ends": {"dwell_h": 6.0, "cap_h": 12.0}},
        {"name": "second", "air_c": 60.0, "band_k": 3.0, "ends": {"dwell_h": 12.0, "cap_h": 20.0}},
    ],
}
HOOKS = ("hook-1", "hook-2", "hook-3", None)
PIECES = [
    {"name": f"piece-{n}", "green_g": 700.0 + 60.0 * n, "target_loss_pct": 35.0, "scale": hook, "thickness_mm": 60.0}
    for n, hook in enumerate(HOOKS, start=1)
]


def resident_mb(pid: int) -> tuple[float, float]:
    """Return all resident memory of a process and the anonymous part of it, MB."""
    found = dict(
        line.split()[:2]
        for line in Path(f"/proc/{pid}/smaps_rollup").read_text().splitlines()[1:]
        if line.startswith(("Rss:", "Anonymous:"))
    )
    return int(found["Rss:"]) / 1000.0, int(found["Anonymous:"]) / 1000.0


def slope_mb_a_day(points: list[tuple[float, float]]) -> float:
    """Return the slope of (chamber hours, MB) as a straight line, after the first sixth of the time."""
    last_h = points[-1][0]
    late = [(h, mb) for h, mb in points if h >= WARM_SHARE * last_h]
    return DAY_H * linear_regression([h for h, _ in late], [mb for _, mb in late]).slope


class Person:
    """Keeps the chamber busy. ``look`` is called every quarter of a chamber hour with the status."""

    def __init__(self, stand: Stand) -> None:
        self._stand = stand
        self._looks = 0
        self.runs = 0

    def look(self, status: dict[str, Any]) -> None:
        """Do what is next to do."""
        self._looks += 1
        phase = status["run"]["phase"]
        if phase in ("complete", "stopped", "aborted"):
            self._stand.ask("ack", who="soak")
            self._stand.ask("reset", who="soak")
        elif phase == "idle":
            self._stand.ask("load", pieces=PIECES)
            self.runs += self._stand.ask("start", program=PROGRAM, run_id="")["accepted"]
        elif phase == "held":
            self._stand.ask("ack", who="soak")
            self._stand.ask("reset", who="soak")
            self._stand.ask("resume")
        elif self._looks % 16 == 0:
            self._stand.ask("hold")
        elif self._looks % 4 == 0:
            by_hand = next((p for p in status["pieces"] if p["name"] == "piece-4"), None)
            if by_hand is not None and by_hand["status"] == "drying":
                grams = 0.995 * (by_hand["weight_g"] or by_hand["green_g"])
                self._stand.ask("weigh", piece="piece-4", weight_g=round(grams, 1))


def skipped_ticks(record: Path) -> int:
    """Return how many ticks this machine was too slow for."""
    with closing(sqlite3.connect(f"file:{record}?mode=ro", uri=True)) as conn:
        return int(conn.execute("SELECT coalesce(sum(to_tick - from_tick + 1), 0) FROM skipped").fetchone()[0])


def soak(hours: float, speed: float, folder: Path) -> int:
    """Run it and print what it held; 0 when both slopes meet the goal."""
    write_chamber(folder, gpio={})
    points: list[tuple[float, float, float]] = []
    pause = Event()
    with Stand(folder, args=("--speed", f"{speed:g}")) as stand:
        service = stand.start()
        while not stand.answers():
            assert service.process.poll() is None, stand.journal()
            pause.wait(0.1)
        person = Person(stand)
        began_s, next_h = monotonic(), 0.0
        while next_h <= hours:
            try:
                status = stand.status()
                at_h = status["chamber_s"] / 3600.0
                if at_h >= next_h:
                    person.look(status)
                    points.append((at_h, *resident_mb(service.process.pid)))
                    next_h = at_h + LOOK_H
                    if len(points) % 24 == 1:
                        print(
                            f"{at_h:6.1f} h  {points[-1][1]:6.1f} MB resident  {points[-1][2]:6.1f} MB anonymous",
                            flush=True,
                        )
            except Unreachable:
                assert service.process.poll() is None, stand.journal()[-3000:]
            pause.wait(min(5.0, LOOK_H * 3600.0 / speed / 4.0))
        took_s = monotonic() - began_s
        os.kill(service.process.pid, signal.SIGTERM)
        service.process.wait(30.0)
    slopes = [slope_mb_a_day([(p[0], p[n]) for p in points]) for n in (1, 2)]
    print(
        f"{points[-1][0]:.0f} chamber hours in {took_s / 60.0:.0f} min, {person.runs} runs, "
        f"{skipped_ticks(folder / 'record.db')} ticks skipped, record {(folder / 'record.db').stat().st_size / 1e6:.1f} MB"
    )
    print(f"slope: resident {slopes[0]:+.2f} MB a day, anonymous {slopes[1]:+.2f} MB a day; goal {MOST_MB_A_DAY:g}")
    return 0 if max(slopes) <= MOST_MB_A_DAY else 1


def main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--hours", type=float, default=72.0)
    parser.add_argument("--speed", type=float, default=150.0)
    told = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        return soak(told.hours, told.speed, Path(folder))


if __name__ == "__main__":
    sys.exit(main())
