"""Kill -9 the real service while people weigh, hold and resume. ``python -m tests.faults_live.acknowledged --count 1000``.

Each worker goes on with one run and one record through all its kills. While the service is up, three people ask without a
pause: one weighs, one holds and resumes, one weighs another piece. What was answered with "accepted", and what an onlooker
could read in the file, must be there after every kill, exactly once, and the run must stand as it was answered. One
kill in five comes while the service is still starting.
"""

from __future__ import annotations

import json
import random
import sqlite3
import sys
import tempfile
import threading
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path
from time import monotonic, sleep
from typing import Any

from dryward.core.phases import HELD
from dryward.doors.wire import Unreachable
from tests.faults_live.kills import options
from tests.faults_live.stand import PROGRAM, Stand, gone, until, write_chamber

STARTING_SHARE = 0.2
LONGEST_S = 3.0  # up for so long at most before it is killed
PEOPLE = ("anna", "berta", "carl")
BATCH = [{"name": name, "green_g": 900.0, "target_loss_pct": 35.0, "thickness_mm": 70.0} for name in ("loin", "neck")]


Readings = dict[int, tuple[Any, ...]]


@dataclass(slots=True)
class Told:
    """What a worker was told, and what was found wrong of it."""

    kills: int = 0
    weighed: list[tuple[str, float]] = field(default_factory=list)
    held: list[str] = field(default_factory=list)  # reasons
    resumed: int = 0
    # Asked without an answer: the state may have it, and the record not.
    tried: set[tuple[str, float]] = field(default_factory=set)
    moves: set[str] = field(default_factory=set)
    asked: int = 0
    samples: int = 0
    wrong: list[str] = field(default_factory=list)


def kill_many(kills: int, *, seed: int, workers: int, folder: Path) -> list[Told]:
    """Kill so many times with ``workers`` services at once; return what each was told."""
    chance = random.Random(seed)
    shares = [kills // workers + (n < kills % workers) for n in range(workers)]
    jobs = [(folder / f"worker-{n}", share, chance.randrange(2**32)) for n, share in enumerate(shares)]
    with ThreadPoolExecutor(workers) as pool:
        return list(pool.map(lambda job: _work(*job), jobs))


def _work(folder: Path, kills: int, seed: int) -> Told:
    chance = random.Random(seed)
    write_chamber(folder)
    told = Told()
    with Stand(folder) as stand:
        stand.start_ready()
        stand.wanted("load", pieces=BATCH)
        stand.wanted("start", program=PROGRAM, run_id="")
        while told.kills < kills and not told.wrong:
            try:
                _kill(stand, told, chance)
            except Exception as error:  # the others go on; this worker cannot
                told.wrong.append(f"{type(error).__name__}: {error}")
    return told


def _kill(stand: Stand, told: Told, chance: random.Random) -> None:
    """Let people ask, kill, start again, look."""
    service = stand.services[-1]
    over = threading.Event()
    people = [threading.Thread(target=_ask, args=(stand, told, who, over)) for who in PEOPLE]
    for one in people:
        one.start()
    sleep(chance.uniform(0.0, LONGEST_S))
    seen = committed(stand)
    service.process.kill()
    over.set()
    for one in people:
        one.join()
    service.process.wait(10.0)
    told.kills += 1
    until(lambda: gone(service.keeper_pid), within_s=5.0, what="the keeper is gone")
    while chance.random() < STARTING_SHARE:
        stand.forget_starts()
        starting = stand.start()
        sleep(chance.uniform(0.0, 1.0))
        starting.process.kill()
        starting.process.wait(10.0)
        told.kills += 1
    stand.forget_starts()
    stand.start_ready()
    told.samples = len(seen)
    told.wrong += [f"kill {told.kills}: {what}" for what in what_is_wrong(stand, told, seen)]


def _ask(stand: Stand, told: Told, who: str, over: threading.Event) -> None:
    """Ask again and again until the service is gone; keep what was accepted and recorded."""
    while not over.is_set():
        told.asked += 1
        try:
            if who != "berta":
                piece, grams = ("loin" if who == "anna" else "neck"), round(880.0 - 0.01 * told.asked, 2)
                told.tried.add((piece, grams))
                if _kept(stand.ask("weigh", who=who, piece=piece, weight_g=grams)):
                    told.weighed.append((piece, grams))
                continue
            verb = "resume" if stand.status()["run"]["phase"] in HELD else "hold"
            why = {"reason": f"visit {told.asked}"} if verb == "hold" else {}
            told.moves.add(verb)
            if _kept(stand.ask(verb, who=who, **why)):
                told.moves.clear()
                told.held += why.values()
                told.resumed += verb == "resume"
        except Unreachable:
            return


def _kept(answer: dict[str, Any]) -> bool:
    return bool(answer["accepted"] and answer["recorded"])


def committed(stand: Stand) -> Readings:
    """Return the readings that an onlooker finds in the file now."""
    with closing(sqlite3.connect(f"file:{stand.folder / 'record.db'}?mode=ro", uri=True)) as record:
        rows = record.execute("SELECT reading_id, channel_id, value, sampled_s FROM reading")
        return {number: tuple(rest) for number, *rest in rows}


def what_is_wrong(stand: Stand, told: Told, seen: Readings) -> list[str]:
    """Return what was acknowledged or committed and is gone, twice or otherwise, after the restart."""
    found = []
    now = committed(stand)
    if lost := [number for number, rest in seen.items() if now.get(number) != rest]:
        found.append(f"{len(lost)} readings are gone or changed, such as {seen[lost[0]]}, now {now.get(lost[0])}")
    with closing(sqlite3.connect(f"file:{stand.folder / 'record.db'}?mode=ro", uri=True)) as record:
        if (check := record.execute("PRAGMA integrity_check").fetchall()) != [("ok",)]:
            found.append(f"integrity_check: {check[:3]}")
        accepted = record.execute(
            "SELECT tick, verb, ask FROM request JOIN reply USING (tick, seq)"
            " WHERE accepted AND verb IN ('weigh', 'hold', 'resume') ORDER BY tick, seq"
        ).fetchall()
        twice = record.execute("SELECT request_id FROM reply GROUP BY request_id HAVING count(*) > 1").fetchall()
        shown = Counter(record.execute("SELECT piece, weight_g FROM weigh_in").fetchall())
        events = Counter(record.execute("SELECT tick, substr(kind, 7) FROM event WHERE kind LIKE 'asked-%'").fetchall())
    asks = [(json.loads(ask), verb) for _, verb, ask in accepted]
    kept: Counter[Any] = Counter(
        (ask["piece"], ask["weight_g"]) if verb == "weigh" else ask.get("reason", verb) for ask, verb in asks
    )
    resumed = kept.pop("resume", 0)
    once = [*told.weighed, *told.held]
    found += [f"{what} was acknowledged and is there {kept[what]} times" for what in once if kept[what] != 1]
    found += [f"{what} was weighed once and is shown {shown[what]} times" for what in told.weighed if shown[what] != 1]
    found += [f"{what} is there {n} times" for what, n in kept.items() if n > 1]
    found += [f"request {number} was answered more than once" for (number,) in twice]
    if resumed < told.resumed:
        found.append(f"{told.resumed} times resumed, {resumed} on record")
    for (tick, verb), n in Counter((tick, verb) for tick, verb, _ in accepted).items():
        if events[tick, verb] != n:
            found.append(f"{verb} was accepted {n} times in tick {tick}, and {events[tick, verb]} events say so")
    return found + _state_wrong(stand.start_states()[-1]["state"], asks, told)


def _state_wrong(state: dict[str, Any], asks: list[tuple[dict[str, Any], str]], told: Told) -> list[str]:
    """Return where the state that the service went on with is behind what was taken down."""
    found = []
    newest = {ask["piece"]: ask["weight_g"] for ask, verb in asks if verb == "weigh"}
    for piece in state["pieces"]:
        name, grams = piece["piece"]["name"], piece["weight_g"]
        ahead = (name, grams) in told.tried and grams < newest.get(name, 0.0)
        if name in newest and grams != newest[name] and not ahead:
            found.append(f"{name} stands at {grams} g, {newest[name]} g is on record")
    moves = [verb for _, verb in asks if verb != "weigh"]
    stands = "hold" if state["run"]["phase"] in HELD else "resume"
    if moves and stands != moves[-1] and stands not in told.moves:
        found.append(f"the run is {state['run']['phase']} after {moves[-1]}")
    return found


def main() -> None:
    asked = options("Kill the service while people ask, and look for what was acknowledged.")
    began_s = monotonic()
    with tempfile.TemporaryDirectory() as folder:
        all_told = kill_many(asked.count, seed=asked.seed, workers=asked.workers, folder=Path(folder))
    wrong = [what for told in all_told for what in told.wrong]
    print("\n".join(wrong[:20]))
    print(
        f"{sum(t.kills for t in all_told)} kills in {monotonic() - began_s:.0f} s, seed {asked.seed}: "
        f"{sum(len(t.weighed) for t in all_told)} acknowledged weighings, "
        f"{sum(len(t.held) + t.resumed for t in all_told)} holds and resumes, {sum(t.samples for t in all_told)} committed readings at the last looks, "
        f"{len(wrong)} wrong"
    )
    sys.exit(bool(wrong))


if __name__ == "__main__":
    main()
