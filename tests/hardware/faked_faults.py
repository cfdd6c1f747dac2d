"""``python -m tests.hardware.faked_faults [--count 100]``: the reader is killed while the real service heats, and worse.

On the faked kernel of ``faked_tree``: the reader is killed so many times, every other time one of its workers; then a read of
the control sensor never returns (its file is a pipe into which nobody writes); then the sensor vanishes; each is mended.
What must hold: heat only on a control reading of at most 10 s (F4), heat again when the reading is back, nothing left behind.
"""

from __future__ import annotations

import argparse
import os
import signal
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from itertools import cycle, pairwise
from pathlib import Path
from threading import Event
from time import monotonic

from dryward.record.queries import Record
from tests.bench.footprint import descendants
from tests.faults_live.stand import Service, Stand, gone, until
from tests.hardware.faked_plant import PACE_S
from tests.hardware.faked_tree import (
    PERIOD_S,
    Wanted,
    command,
    environ,
    plant_in,
    write_batch,
    write_dryer,
    write_program,
)

STALE_S = 10.0  # F4: heat goes off
SLACK_S = 2.0 * PERIOD_S  # a decision a second, and what a loaded machine adds
AIR = "class/hwmon/hwmon1"
BACK_S = 30.0  # a worker is begun anew after 8 s at most, and may hang for 4 s before that


@dataclass(frozen=True, kw_only=True)
class Told:
    """What the faults came to."""

    kills: int
    longest_gap_s: float  # between two control readings while readers were killed
    heated_on_s: float  # age of the oldest control reading on which the heater was on
    hung_s: float  # age that the control reading reached while a read never returned
    vanished_s: float
    back_s: list[float]  # from each mending to heat
    trips: list[str]
    orphans: int

    def faults(self) -> list[str]:
        """Say what was not as it must be."""
        found = []
        if self.longest_gap_s > STALE_S:
            found.append(f"no control reading for {self.longest_gap_s:.1f} s while readers were killed")
        if self.heated_on_s > STALE_S + SLACK_S:
            found.append(f"heat on a control reading of {self.heated_on_s:.1f} s")
        if min(self.hung_s, self.vanished_s) <= STALE_S:
            found.append("the control reading never got old: nothing was shown")
        if max(self.back_s) > BACK_S:
            found.append(f"heat came back only after {max(self.back_s):.0f} s")
        found += [f"tripped: {key}" for key in self.trips]
        found += [f"{self.orphans} processes left behind"] if self.orphans else []
        return found

    def table(self) -> str:
        """Return it for people."""
        rows = {
            "kills of reader and workers": f"{self.kills}",
            "longest gap of readings": f"{self.longest_gap_s:.1f} s",
            "oldest reading heated on": f"{self.heated_on_s:.1f} s (F4: {STALE_S:g} s and a tick)",
            "reading's age, read hung": f"{self.hung_s:.1f} s",
            "reading's age, sensor gone": f"{self.vanished_s:.1f} s",
            "heat again after mending": ", ".join(f"{s:.1f} s" for s in self.back_s),
            "trips": ", ".join(self.trips) or "none",
            "processes left behind": f"{self.orphans}",
        }
        return "\n".join(f"{name:29}{said}" for name, said in rows.items())


class Heating:
    """A service that heats on the faked kernel, and the faults that it meets."""

    def __init__(self, folder: Path, stand: Stand, service: Service) -> None:
        self._folder, self._stand, self._service = folder, stand, service
        self._air = folder / "sys" / AIR
        self.seen: set[int] = set()  # every process there was

    def kill_readers(self, count: int) -> None:
        """Kill reader and workers by turns, each when the one before has been replaced and reads again."""
        for _, whole in zip(range(count), cycle((True, False)), strict=False):
            readers = self.readers()
            victim = min(readers) if whole else max(readers)
            os.kill(victim, signal.SIGKILL)
            struck_s = self.now_s()
            until(lambda v=victim: gone(v), within_s=5.0, what="the end of what was killed")  # type: ignore[misc]
            until(lambda s=struck_s: self._read_s() > s, within_s=STALE_S, what="a reading after it", pace_s=0.1)  # type: ignore[misc]

    def hang(self) -> float:
        """Let a read of the control sensor never return; mend it when heat is off. Return how long heat took to come back."""
        self._silence("air", "humidity")
        file = self._air / "temp1_input"
        pipe = file.with_name("pipe")
        os.mkfifo(pipe)
        pipe.replace(file)
        return self._mended(lambda: file.unlink())

    def vanish(self) -> float:
        """Take the control sensor away and bring it back. Return how long heat took to come back."""
        self._silence("air", "humidity")
        away = self._folder / "away"
        self._air.rename(away)
        return self._mended(lambda: away.rename(self._air))

    def _mended(self, mend: Callable[[], object]) -> float:
        until(lambda: bool(self._stand.status()["no_heat"]), within_s=STALE_S + 10.0, what="heat off", pace_s=0.2)
        until(lambda: not self._stand.is_on("heater"), within_s=2.0, what="the heater off")
        began_s = monotonic()
        mend()
        self._silence()
        until(lambda: self._stand.is_on("heater"), within_s=2.0 * BACK_S, what="heat again", pace_s=0.1)
        return monotonic() - began_s

    def _silence(self, *what: str) -> None:
        fresh = self._folder / "silent.new"
        fresh.write_text(" ".join(what))
        fresh.replace(self._folder / "silent")
        Event().wait(4.0 * PACE_S)  # the plant looks that often

    def readers(self) -> list[int]:
        """Return the reader and its workers."""
        family = descendants(self._service.process.pid)
        self.seen |= set(family)
        return [pid for pid in family if b"dryward_hardware.reader" in Path(f"/proc/{pid}/cmdline").read_bytes()]

    def now_s(self) -> float:
        return float(self._stand.status()["chamber_s"])

    def _read_s(self) -> float:
        """Return when the newest control reading was taken, on the chamber clock."""
        status = self._stand.status()
        air = next(s for s in status["sensors"] if s["name"] == "air")
        return float(status["chamber_s"] - air["age_s"])


def session(folder: Path, count: int) -> Told:
    """Heat, go through the faults, tell what they came to."""
    write_dryer(folder)
    program, batch = write_program(folder, [Wanted("hot", 75.0, 3.0, 3600.0)]), write_batch(folder)
    with plant_in(folder), Stand(folder, environ=environ(folder)) as stand:
        service = stand.start_ready()
        until(lambda: stand.status()["air"]["quality"] == "fresh", within_s=20.0, what="fresh air", pace_s=0.2)
        command(folder, "load", str(batch))
        command(folder, "start", str(program))
        stand.await_heat(within_s=20.0)
        heating = Heating(folder, stand, service)
        moments = [heating.now_s()]
        back_s = []
        heating.kill_readers(count)
        for fault in (heating.hang, heating.vanish):
            moments.append(heating.now_s())
            back_s.append(fault())
        moments.append(heating.now_s())
        heating.readers()
        trips = sorted(stand.trips())
        service.process.terminate()
        service.process.wait(20.0)
        orphans = sum(not gone(pid) for pid in heating.seen)
    ages, heated_on_s = ages_of(folder / "record.db")
    killed, hung, vanished = (max(age for at, age in ages if first <= at <= last) for first, last in pairwise(moments))
    return Told(
        kills=count,
        longest_gap_s=killed,
        heated_on_s=heated_on_s,
        hung_s=hung,
        vanished_s=vanished,
        back_s=back_s,
        trips=trips,
        orphans=orphans,
    )


def ages_of(path: Path) -> tuple[list[tuple[float, float]], float]:
    """Return (chamber s, age of the control reading) at every tick of the run, and the oldest age at which the heater was on."""
    with Record(path) as record:
        run_id = record.runs()[0].run_id
        switched = {tick: on for tick, output, on in record.output_changes(run_id) if output == "heater"}
        newest_s, on, ages, heated = None, False, [], 0.0
        for tick, inputs in record.inputs(run_id):
            for r in inputs.readings:
                if r.channel == "air" and r.value is not None:
                    newest_s = r.sampled_s
            on = switched.get(tick, on)
            if newest_s is not None:
                age_s = tick * PERIOD_S - newest_s
                ages.append((tick * PERIOD_S, age_s))
                heated = max(heated, age_s if on else 0.0)
    return ages, heated


def main(arguments: list[str]) -> int:
    """Run, print the table; return 0 when nothing was wrong."""
    parser = argparse.ArgumentParser(prog="python -m tests.hardware.faked_faults", description=__doc__)
    parser.add_argument("--count", type=int, default=100, help="kills of the reader")
    count: int = parser.parse_args(arguments).count
    with tempfile.TemporaryDirectory() as folder:
        found = session(Path(folder) / "dryer", count)
    print(found.table())
    for fault in found.faults():
        print(f"NOT AS IT MUST BE: {fault}")
    return 1 if found.faults() else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
