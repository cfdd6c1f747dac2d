"""Kill the whole service again and again while it heats, and measure. ``python -m tests.faults_live.kills --count 1000``.

Each worker has a folder of its own and goes on with one and the same run through all its kills. Before each start
the count of starts is forgotten, as if ten minutes had passed: the crash-loop rule (F24) has its own test.

What must hold, each time (fault contract F1, F2, F16, F23):

- the heater is off within 1 s of a death, within 5 s of the beginning of a hang, by the keeper's own trace;
- a killed keeper is replaced within 2 s by one that claims every line safe first, and heat comes back;
- keeper and main process are gone, nothing else is left;
- the next start is ready within 5 s (less what it waited for a processor that others had) and stands in the program where the last one was, to one tick. Where that was, is
  counted from the words to the watchdog, which come one a turn.
"""

from __future__ import annotations

import argparse
import os
import random
import signal
import statistics
import sys
import tempfile
import threading
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from time import monotonic

from tests.faults_live.stand import Service, Stand, gone, until, waited_s, write_chamber

DEATHS = ("TERM", "INT", "HUP", "ABRT", "KILL", "SEGV")
BLOCKS = ("wait", "spin", "hold")
SHARES = {
    "TERM": 9,
    "INT": 9,
    "HUP": 9,
    "ABRT": 9,
    "KILL": 15,
    "SEGV": 9,
    "STOP": 12,
    "wait": 7,
    "spin": 7,
    "hold": 6,
    "keeper": 8,
}
LIMIT_S = dict.fromkeys(DEATHS, 1.0) | dict.fromkeys(("STOP", *BLOCKS), 5.0) | {"keeper": 2.0}
START_S = 5.0
WORKERS = 4
GONE_S = 2.0  # a keeper needs one look round after its pipe has ended
PERIOD_S = 1.0


@dataclass(slots=True)
class Shot:
    """One kill and what followed. Times in s."""

    kind: str
    heating: bool = False
    off_s: float = 0.0
    ready_s: float = 0.0
    ticks_wrong: int = 0
    wrong: list[str] = field(default_factory=list)


@dataclass(slots=True)
class Place:
    """Where the run must stand, counted from outside."""

    tick: int
    at_s: float
    step_s: float
    run_id: str


def kill_many(count: int, *, seed: int, workers: int, folder: Path) -> list[Shot]:
    """Kill ``count`` times with ``workers`` services at once; return what was seen, one Shot a kill."""
    chance = random.Random(seed)
    hundred = [kind for kind, share in SHARES.items() for _ in range(share)]
    kinds = hundred * (count // 100) + chance.sample(hundred, count % 100)
    chance.shuffle(kinds)
    jobs = [(folder / f"worker-{n}", kinds[n::workers], chance.randrange(2**32)) for n in range(workers)]
    with ThreadPoolExecutor(workers) as pool:
        return [shot for shots in pool.map(lambda job: _work(*job), jobs) for shot in shots]


def _work(folder: Path, kinds: Sequence[str], seed: int) -> list[Shot]:
    chance = random.Random(seed)
    write_chamber(folder)
    place: Place | None = None
    shots: list[Shot] = []
    with Stand(folder) as stand:
        service = stand.start_ready()
        stand.begin()
        service.process.send_signal(signal.SIGTERM)
        service.process.wait(10.0)
        for kind in kinds:
            shots.append(Shot(kind))
            try:
                place = _shoot(shots[-1], stand, kind, chance, place)
            except Exception as error:  # the others go on; this worker cannot
                shots[-1].wrong.append(f"{type(error).__name__}: {error}")
                break
    return shots


def _shoot(shot: Shot, stand: Stand, kind: str, chance: random.Random, place: Place | None) -> Place:
    stand.forget_starts()
    (stand.folder / "block").unlink(missing_ok=True)
    service = stand.start_ready(program=("-m", "tests.faults_live.blocker") if kind in BLOCKS else None)
    shot.ready_s = (
        stand.ready_s(service) - service.began_s - waited_s(service.process.pid) - waited_s(service.keeper_pid)
    )
    until(lambda: bool(stand.pings(service)), within_s=5.0, what="the first word to the watchdog")
    begun = stand.start_states()[-1]
    if place is not None:
        _compare(shot, place, begun, stand.pings(service)[0])
    if trips := stand.trips():
        shot.wrong.append(f"tripped: {trips}")
    stand.await_heat()
    threading.Event().wait(chance.uniform(0.0, 2.0))
    shot.heating = stand.is_on("heater")
    moment_s = monotonic()
    if kind == "keeper":
        shot.off_s = _kill_keeper(stand, service) - moment_s
        service.process.send_signal(signal.SIGTERM)
    else:
        _strike(stand, service, kind)
        until(lambda: stand.off_after("heater", moment_s) is not None, within_s=10.0, what=f"off after {kind}")
        shot.off_s = (stand.off_after("heater", moment_s) or moment_s) - moment_s
        if kind not in DEATHS:
            _watchdog_acts(shot, stand, service, moment_s)
    service.process.wait(10.0)
    _nothing_left(shot, stand, service)
    if shot.off_s > LIMIT_S[kind]:
        shot.wrong.append(f"off after {shot.off_s:.2f} s")
    if shot.ready_s > START_S:
        shot.wrong.append(f"ready after {shot.ready_s:.2f} s")
    return _count(begun, stand.pings(service))


def _strike(stand: Stand, service: Service, kind: str) -> None:
    if kind in BLOCKS:
        (stand.folder / "block.new").write_text(kind)
        os.replace(stand.folder / "block.new", stand.folder / "block")
    else:
        service.process.send_signal(getattr(signal, f"SIG{kind}"))


def _kill_keeper(stand: Stand, service: Service) -> float:
    """Kill the keeper; return when a new one had claimed the heater's line in its safe state."""
    moment_s = monotonic()
    os.kill(service.keeper_pid, signal.SIGKILL)

    def claimed() -> float | None:
        return next(
            (e.at_s for e in stand.trace() if e.output == "heater" and e.why == "start" and e.at_s >= moment_s), None
        )

    until(lambda: claimed() is not None, within_s=10.0, what="a new keeper")
    at_s = claimed()
    stand.await_heat()
    service.keeper_pid = stand.keeper_pid()
    assert at_s is not None
    return at_s


def _watchdog_acts(shot: Shot, stand: Stand, service: Service, moment_s: float) -> None:
    """A hung service says no more that it is well; the service manager then aborts and kills it."""
    late = [p for p in stand.pings(service) if p > moment_s + PERIOD_S + 0.5]
    if late:
        shot.wrong.append(f"{len(late)} words to the watchdog from a hung loop")
    service.process.send_signal(signal.SIGABRT)
    service.process.kill()


def _nothing_left(shot: Shot, stand: Stand, service: Service) -> None:
    try:
        until(lambda: gone(service.keeper_pid), within_s=GONE_S, what="the keeper is gone")
    except AssertionError as error:
        shot.wrong.append(str(error))
    name = str(stand.folder).encode()
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit() and int(entry.name) != os.getpid():
            try:
                words = (entry / "cmdline").read_bytes()
            except OSError:
                continue
            if name in words and not gone(int(entry.name)):
                shot.wrong.append(f"left behind: {words!r}")


def _count(begun: dict[str, object], pings: Sequence[float]) -> Place:
    """Count, from outside, where the run is: one turn for each word to the watchdog."""
    first_tick, state = begun["first_tick"], begun["state"]
    assert isinstance(first_tick, int)
    assert isinstance(state, dict)
    step_s, before_s, tick = state["run"]["step_s"], state["now"], first_tick
    for ping_s in pings:
        tick = first_tick + round((ping_s - pings[0]) / PERIOD_S)
        step_s += min(
            tick * PERIOD_S - before_s, 2.0 * PERIOD_S
        )  # the engine never counts a gap as more than two ticks
        before_s = tick * PERIOD_S
    return Place(tick, pings[-1], step_s, state["run"]["run_id"])


def _compare(shot: Shot, place: Place, begun: dict[str, object], first_ping_s: float) -> None:
    state, first_tick = begun["state"], begun["first_tick"]
    assert isinstance(state, dict)
    assert isinstance(first_tick, int)
    run = state["run"]
    if (run["run_id"], run["step_index"], run["phase"]) != (place.run_id, 0, "running"):
        shot.wrong.append(f"stands in {run['run_id']} step {run['step_index']} {run['phase']}, not in {place.run_id}")
    passed = first_tick - (place.tick + (first_ping_s - place.at_s) / PERIOD_S)
    shot.ticks_wrong = max(abs(round((run["step_s"] - place.step_s) / PERIOD_S)), int(abs(passed)))
    if shot.ticks_wrong > 1:
        shot.wrong.append(f"step time {run['step_s']:g} s, counted {place.step_s:g} s; clock off by {passed:.2f} ticks")


def table(shots: Sequence[Shot]) -> str:
    """Return the measured times, one line a kind."""
    lines = [
        f"{'what':<8}{'kills':>6}{'heating':>9}{'off s: median':>15}{'p100':>7}{'limit':>7}{'start s: median':>17}{'p100':>7}{'ticks off':>11}{'wrong':>7}"
    ]
    for kind in SHARES:
        of = [s for s in shots if s.kind == kind]
        if of:
            off, ready = [s.off_s for s in of], [s.ready_s for s in of]
            lines.append(
                f"{kind:<8}{len(of):>6}{sum(s.heating for s in of):>9}{statistics.median(off):>15.3f}{max(off):>7.3f}{LIMIT_S[kind]:>7.1f}"
                f"{statistics.median(ready):>17.2f}{max(ready):>7.2f}{max(s.ticks_wrong for s in of):>11}{sum(bool(s.wrong) for s in of):>7}"
            )
    lines += [f"  {s.kind}: {'; '.join(s.wrong)}" for s in shots if s.wrong]
    return "\n".join(lines)


def options(description: str) -> argparse.Namespace:
    """Return how often, with how many services at once and from which seed to kill, as asked on the command line."""
    parser = argparse.ArgumentParser(description=description)
    parser.add_argument("--count", type=int, default=1000)
    parser.add_argument("--workers", type=int, default=WORKERS)
    parser.add_argument("--seed", type=int, default=random.SystemRandom().randrange(2**32))
    return parser.parse_args()


def main() -> None:
    asked = options("Kill the whole service while it heats, and measure.")
    began_s = monotonic()
    with tempfile.TemporaryDirectory() as folder:
        shots = kill_many(asked.count, seed=asked.seed, workers=asked.workers, folder=Path(folder))
    print(table(shots))
    print(f"{len(shots)} kills in {monotonic() - began_s:.0f} s, seed {asked.seed}")
    sys.exit(any(s.wrong for s in shots))


if __name__ == "__main__":
    main()
