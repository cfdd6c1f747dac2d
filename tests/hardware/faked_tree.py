"""``python -m tests.hardware.faked_tree [--minutes 10]``: the real service on a faked kernel, in real time, by a table.

The chamber file is the wired dryer that ``dryward init --kind dryer`` gives, filled in as its owner would: calibrated by
``dryward calibrate``, tuned, commissioning over; only the roots, places and the pin factory are those of a machine without GPIO.
The dryer itself is a process of its own (``faked_plant``), which writes the kernel's files and follows the mock pins.
``check`` must pass before and during the run, the run must come to its end by its own program, no tick may be missed.
"""

from __future__ import annotations

import argparse
import json
import os
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from time import monotonic
from typing import Any, NamedTuple

from dryward.record.queries import Record
from dryward.service.replay import replay
from dryward.settings.starter import starter_files
from tests.bench.footprint import descendants
from tests.faults_live.stand import ROOT, Service, Stand, gone, until
from tests.hardware.faked_plant import CELLS, HOOK_G, PIECES

PERIOD_S = 1.0
KERNEL_KINDS = ("hwmon", "w1", "hx711")
WIRED = {  # what the starter file says: what it says on a machine without GPIO
    'path = "/var/lib/dryward/record.db"': 'path = "record.db"',
    'socket = "/run/dryward/dryward.sock"': 'socket = "run/dryward.sock"',
    'socket_group = "dryward"': 'socket_group = ""',
    'pin_factory = "lgpio"': 'pin_factory = "mock"',
    "commissioning = true": "commissioning = false",
    "# figures are used.\n": """
[control.plant]
gain_k = 124.0
time_constant_s = 240.0
dead_time_s = 10.0
lag_s = 8.0
""",
}


@dataclass(frozen=True, kw_only=True)
class Told:
    """What a run on the faked kernel was like."""

    wall_s: float
    ticks: int
    missed: int
    latest_s: float  # how late a turn ended against an even second, at worst
    accepted: int
    refused: dict[str, int]
    respawns: int
    heater: int
    steps: list[str]
    ended: str
    why: str
    top_c: float
    alarms: list[str]
    calibrations: list[str]  # what the service has to say of them
    counts: dict[str, float]  # by scale: the last raw count, in g by the plant's own figures, without the hook
    checks: list[dict[str, Any]]
    replay: str
    processes: int  # main, keeper, reader and its workers
    left: int  # of them, after the end

    def faults(self) -> list[str]:
        """Say what was not as it must be."""
        found = [
            f"check failed: {f['text']}" for check in self.checks for f in check["findings"] if f["verdict"] == "fail"
        ]
        found += [f"alarm {key}" for key in self.alarms]
        found += [f"said of calibrations: {line}" for line in self.calibrations]
        found += [
            f"{h}: its counts are {g:.1f} g"
            for h, g in self.counts.items()
            if not 0.9 * PIECES[h] < g < 1.1 * PIECES[h]
        ]
        found += [] if set(self.counts) == set(CELLS) else ["not every cell has its raw counts on record"]
        found += [] if self.ended == "complete" else [f"the run ended as {self.ended or 'still open'}: {self.why}"]
        found += [] if self.missed == 0 else [f"{self.missed} ticks missed"]
        found += [] if self.heater > 1 else ["the heater was not switched"]
        found += [] if self.accepted > 2 * self.wall_s else [f"only {self.accepted} readings"]
        found += [] if set(self.refused) <= {"checksum failed"} else [f"refused: {self.refused}"]
        found += [] if self.respawns == 0 else [f"{self.respawns} devices begun again"]
        found += [] if self.replay.startswith("0 ") else [f"replay: {self.replay}"]
        found += (
            [] if self.left == 0 and self.processes > 3 else [f"{self.left} of {self.processes} processes left behind"]
        )
        return found

    def table(self) -> str:
        """Return it for people."""
        refused = ", ".join(f"{n} {why}" for why, n in self.refused.items()) or "none"
        rows = {
            "wall time": f"{self.wall_s:.0f} s",
            "ticks": f"{self.ticks}, missed {self.missed}, at worst {1000 * self.latest_s:.0f} ms late",
            "readings accepted": f"{self.accepted}",
            "reads refused": f"{refused}; devices begun again: {self.respawns}",
            "heater switched": f"{self.heater} times",
            "step changes": "; ".join(self.steps),
            "warmest air": f"{self.top_c:.1f} degC",
            "ended": f"{self.ended}: {self.why}",
            "alarms": ", ".join(self.alarms) or "none",
            "raw counts, in g": ", ".join(f"{hook} {g:.1f}" for hook, g in self.counts.items()),
            "check, before and during": ", ".join(
                f"{c['failed']} failed, {c['warned']} to look at" for c in self.checks
            ),
            "replayed": self.replay,
            "processes": f"{self.processes}, left behind {self.left}",
        }
        return "\n".join(f"{name:26}{said}" for name, said in rows.items())


def write_dryer(folder: Path) -> Path:
    """Write the chamber file, then calibrate its four cells by known weights; return the file."""
    (folder / "run").mkdir(parents=True)
    text = starter_files("dryer")["chamber.toml"]
    kinds = {f'kind = "{kind}"\n': f'kind = "{kind}"\nroot = "{folder / "sys"}"\n' for kind in KERNEL_KINDS}
    for was, now in {**WIRED, **kinds}.items():
        assert was in text, was
        text = text.replace(was, now)
    path = folder / "chamber.toml"
    path.write_text(text)
    for hook, (zero, per_g) in CELLS.items():
        points = [f"--point={load}={zero + load * per_g:.0f}" for load in (0, 500, 1000)]
        found = json.loads(command(folder, "calibrate", "scale", hook, *points, "--finish", "--who=Ines", "--json"))
        lines = "".join(f"{key} = {json.dumps(found[key])}\n" for key in ("zero_count", "g_per_count", "calibration"))
        text = text.replace(f'name = "{hook}"\n', f'name = "{hook}"\n{lines}')
    path.write_text(text)
    return path


class Wanted(NamedTuple):
    """A step of the program: name, degC, half width of its band, K, and dwell, s."""

    name: str
    air_c: float
    band_k: float
    dwell_s: float


def write_program(folder: Path, steps: Sequence[Wanted]) -> Path:
    """Write a program of these steps; return its file."""
    text = 'name = "faked"\ncap_h = 2.0\n'
    for name, air_c, band_k, dwell_s in steps:
        ends = f"ends = {{ dwell_h = {dwell_s / 3600.0:.6f} }}"
        text += f'[[steps]]\nname = "{name}"\nair_c = {air_c}\nband_k = {band_k}\n{ends}\n'
    path = folder / "program.toml"
    path.write_text(text)
    return path


def write_batch(folder: Path) -> Path:
    """Write the batch that hangs in the plant; return its file."""
    path = folder / "batch.toml"
    path.write_text("".join(f'[[pieces]]\nname = "on-{h}"\ngreen_g = {g}\nscale = "{h}"\n' for h, g in PIECES.items()))
    return path


def environ(folder: Path) -> dict[str, str]:
    """Return what the real commands are started with."""
    return {
        "PYTHONPATH": os.pathsep.join(str(ROOT / part) for part in ("daemon", "hardware", ".")),
        "DRYWARD_MOCK_LEVELS": str(folder / "levels"),
    }


def command(folder: Path, *words: str, ends: tuple[int, ...] = (0,)) -> str:
    """Run ``dryward`` as a person does; return what it said."""
    done = subprocess.run(
        [sys.executable, "-m", "dryward", *words, "--config", str(folder / "chamber.toml")],
        env={**os.environ, **environ(folder)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode in ends, f"dryward {' '.join(words)}: {done.stdout}{done.stderr}"
    return done.stdout


@contextmanager
def plant_in(folder: Path) -> Iterator[None]:
    """Let the plant run."""
    plant = subprocess.Popen(
        [sys.executable, "-m", "tests.hardware.faked_plant", str(folder)],
        cwd=ROOT,
        env={**os.environ, **environ(folder)},
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
    )
    assert plant.stdin is not None
    assert plant.stdout is not None
    try:
        assert plant.stdout.readline() == b"showing\n"
        yield
    finally:
        plant.stdin.close()
        plant.wait(10.0)
        plant.stdout.close()


def session(folder: Path, steps: Sequence[Wanted], *, within_s: float) -> Told:
    """Calibrate, check, serve, load, start, check, wait for the end of the program; tell what it was like."""
    write_dryer(folder)
    program, batch = write_program(folder, steps), write_batch(folder)
    with plant_in(folder), Stand(folder, environ=environ(folder)) as stand:
        checks = [check(folder, program)]
        began_s = monotonic()
        service = stand.start_ready()
        until(lambda: stand.status()["air"]["quality"] == "fresh", within_s=20.0, what="fresh air", pace_s=0.2)
        command(folder, "load", str(batch))
        command(folder, "start", str(program))
        until(lambda: stand.is_on("heater"), within_s=20.0, what="heat", pace_s=0.2)
        checks.append(check(folder, program))
        open_run = ("running", "holding", "held", "restarting")
        until(lambda: stand.status()["run"]["phase"] not in open_run, within_s=within_s, what="the end", pace_s=0.5)
        status, alarms = stand.status(), [a["key"] for a in stand.status()["alarms"]]
        wall_s = monotonic() - began_s
        family = descendants(service.process.pid)
        service.process.terminate()
        service.process.wait(20.0)
        left = [pid for pid in family if not gone(pid)]
        return told(stand, service, status, alarms, checks, wall_s=wall_s, processes=len(family), left=len(left))


def check(folder: Path, program: Path) -> dict[str, Any]:
    """Run the preflight and return what it says as data."""
    found: dict[str, Any] = json.loads(command(folder, "check", "--json", "--program", str(program), ends=(0, 1)))
    return found


def told(
    stand: Stand,
    service: Service,
    status: dict[str, Any],
    alarms: list[str],
    checks: list[dict[str, Any]],
    *,
    wall_s: float,
    processes: int,
    left: int,
) -> Told:
    """Read record, trace and counters."""
    devices = status["reader"]["devices"].values()
    refused: dict[str, int] = {}
    for device in devices:
        for why, count in device["failures"].items():
            refused[why] = refused.get(why, 0) + count
    pings = stand.pings(service)
    with Record(stand.folder / "record.db") as record:
        run_id = record.runs()[0].run_id
        run = record.run(run_id)
        readings = [r for _, inputs in record.inputs(run_id) for r in inputs.readings]
        last = {hook: record.raw_counts(run_id, hook)[-1:] for hook in CELLS}
        counts = {
            h: (c - CELLS[h][0]) / CELLS[h][1] - HOOK_G for h, rows in last.items() for _, c, _, name in rows if name
        }
        same = replay(record, run_id)
        steps = [f"{s.name} after {(s.began_tick - run.start_tick) * PERIOD_S:.0f} s" for s in record.steps(run_id)]
    return Told(
        wall_s=wall_s,
        ticks=len(pings),
        missed=skipped(stand.folder / "record.db"),
        latest_s=latest_s(pings),
        accepted=sum(r.value is not None for r in readings),
        refused=refused,
        respawns=status["reader"]["respawns"] + sum(d["respawns"] for d in devices),
        heater=sum(e.output == "heater" and e.why != "start" for e in stand.trace()),
        steps=steps,
        ended=status["run"]["phase"],
        why=status["run"]["why"],
        top_c=max((r.value for r in readings if r.channel == "air" and r.value is not None), default=0.0),
        alarms=alarms,
        calibrations=status["calibrations"],
        counts=counts,
        checks=checks,
        replay=f"{same.different} differences in {same.ticks} ticks",
        processes=processes,
        left=left,
    )


def skipped(path: Path) -> int:
    """Return how many ticks were never executed."""
    with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as record:
        return sum(last - first + 1 for first, last in record.execute("SELECT from_tick, to_tick FROM skipped"))


def latest_s(pings: list[float]) -> float:
    """Return how late a turn ended at worst, against even seconds laid through the earliest of them, s."""
    ends = [at_s - number * PERIOD_S for number, at_s in enumerate(pings)]
    return max(ends) - min(ends)


def steps_for(minutes: float) -> list[Wanted]:
    """Return a program of so many minutes: this dryer takes some 2.5 of them to get there (measured), the rest is dwell."""
    dwell_s = max(5.0, 30.0 * minutes - 75.0)
    return [Wanted("warm", 40.0, 2.5, dwell_s), Wanted("warmer", 50.0, 2.5, dwell_s)]


def main(arguments: list[str]) -> int:
    """Run, print the table; return 0 when nothing was wrong."""
    parser = argparse.ArgumentParser(prog="python -m tests.hardware.faked_tree", description=__doc__)
    parser.add_argument("--minutes", type=float, default=10.0, help="about how long the program takes")
    minutes: float = parser.parse_args(arguments).minutes
    with tempfile.TemporaryDirectory() as folder:
        found = session(Path(folder) / "dryer", steps_for(minutes), within_s=60.0 * (2.0 * minutes + 5.0))
    print(found.table())
    for fault in found.faults():
        print(f"NOT AS IT MUST BE: {fault}")
    return 1 if found.faults() else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
