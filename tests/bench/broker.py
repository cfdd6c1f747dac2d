"""The broker's figures, with a real mosquitto. Run: python -m tests.bench.broker [fleet|cost|outage] ...

fleet   50 chambers at one broker, a plain client that hears them all: how many changes of state and alerts are lost.
cost    what publishing costs this process in each tick in which something has changed, and the loop's own thread in it.
outage  what two days without a broker leave behind, delivered after its return: time, order, memory.
"""

from __future__ import annotations

import json
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import ExitStack, suppress
from itertools import pairwise
from pathlib import Path
from statistics import median

import psutil

from dryward.core.commands import Commands, Event
from dryward.core.inputs import Inputs
from dryward.core.layout import Layout, lay_out
from dryward.core.state import State
from dryward.doors.mqtt.session import LANE
from dryward.record.moments import Stamp
from dryward.record.outbox import Draft, Outbox
from dryward.service.fast import run_fast
from dryward.service.loop import View
from dryward.service.snapshot import glance, snapshot
from dryward.settings import read_pieces, read_program, read_settings
from tests.doors.mqtt_house import house, plain
from tests.doors.mqtt_stand import broker, line, listener
from tests.faults_live.stand import until
from tests.service.conftest import write_twin

CHAMBERS, FLEET_S = 50, 60
COST_TICKS = 60
OUTAGE_LETTERS = 48 * 60  # one a minute
WARM_TICKS = 20_000


class Enough(Exception):
    """The simulated run has gone far enough."""


def views(count: int) -> tuple[Layout, list[View]]:
    """Return ``count`` consecutive ticks of a run on the simulated dryer, some hours after its begin."""
    with tempfile.TemporaryDirectory() as name:
        path = write_twin(Path(name))
        settings = read_settings(path)
        program, pieces = (
            read_program(path.with_name("program.toml")),
            read_pieces(path.with_name("batch.toml"), settings.chamber),
        )
        kept: list[View] = []

        def watch(tick: int, inputs: Inputs, commands: Commands, state: State) -> None:
            if tick > WARM_TICKS:
                kept.append(View(tick, state, Stamp(utc_s=time.time(), boottime_s=0.0, synchronised=True), commands.on))
            if len(kept) >= count:
                raise Enough

        with suppress(Enough):
            run_fast(settings, program, pieces, run_id="bench-1", period_s=1.0, record=None, who="bench", watch=watch)
        return lay_out(settings.chamber), kept


def cpu_s(thread: threading.Thread) -> float:
    """Return the processor time a thread has used."""
    assert thread.ident is not None
    return time.clock_gettime(time.pthread_getcpuclockid(thread.ident))


def named(name: str) -> threading.Thread:
    return next(t for t in threading.enumerate() if t.name == name)


def cost(folder: Path) -> bool:
    """One chamber, real time: processor time of the broker's thread and of the loop's thread in each changed tick."""
    layout, kept = views(COST_TICKS + 20)
    with (
        broker(folder) as served,
        listener(served.port) as heard,
        house(folder / "h", plain(served.port)) as chamber_house,
    ):
        now = iter(kept)
        current = next(now)
        chamber_house.mqtt._status = lambda: snapshot(layout, current) | {"planned": []}
        chamber_house.mqtt._glance = lambda: glance(layout, current)
        chamber_house.mqtt.turned()
        until(lambda: heard.state.get("homie/5/shed/$state") == "ready", within_s=10.0, what="ready")
        worker = named("broker")
        spent: list[float] = []
        looped: list[float] = []
        before = 0
        for current in now:  # noqa: B007 (the door looks at it)
            count, cpu, own = len(heard.heard), cpu_s(worker), time.thread_time()
            chamber_house.mqtt.turned()
            looped.append(time.thread_time() - own)
            time.sleep(1.0)
            if len(heard.heard) > count:
                spent.append(cpu_s(worker) - cpu)
                before += len(heard.heard) - count
    spent_ms = sorted(1000.0 * s for s in spent)
    looped_us = 1e6 * median(looped)
    figure = median(spent_ms)
    print(
        f"cost: {len(spent)} changed ticks of {len(kept) - 1}, {before / max(1, len(spent)):.1f} messages each; broker thread median {figure:.3f} ms, "
        f"95 % below {spent_ms[int(0.95 * len(spent_ms))]:.3f} ms; the loop's own thread {looped_us:.0f} us"
    )
    return figure + looped_us / 1000.0 <= 0.5


def fleet(folder: Path) -> bool:
    """50 chambers turn once a second, each with an event now and then; count what a plain client has heard."""
    with ExitStack() as stack:
        served = stack.enter_context(broker(folder))
        heard = stack.enter_context(listener(served.port))
        houses = [
            stack.enter_context(house(folder / f"h{n}", plain(served.port), name=f"c{n:02}", run=()))
            for n in range(CHAMBERS)
        ]
        for one in houses:
            one.turn(40.0)
        until(
            lambda: all(heard.state.get(f"homie/5/c{n:02}/$state") == "ready" for n in range(CHAMBERS)),
            within_s=60.0,
            what="all ready",
        )
        began, process = time.monotonic(), psutil.Process()
        cpu = process.cpu_times()
        shown: list[list[str]] = [["40.0"] for _ in houses]
        for second in range(FLEET_S):
            for n, one in enumerate(houses):
                one.turn(40.0 + second / 10.0 + 0.1)  # every tick is a change
                shown[n].append(f"{one.status()['air']['air_c']:.1f}")
                if (second + n) % 10 == 0:
                    one.say(f"{n}-{second}")
            time.sleep(max(0.0, began + second + 1 - time.monotonic()))
        until(lambda: all(h.outbox.waiting().letters == 0 for h in houses), within_s=30.0, what="all letters delivered")
        used = process.cpu_times()
        time.sleep(3.0)  # longer than any wait of the door: what has not come by now was not sent
        changes = missed = 0
        for n, had in enumerate(shown):
            wanted = [now for before, now in pairwise(had) if now != before]
            changes += len(wanted)
            missed += sum((Counter(wanted) - Counter(heard.payloads(f"c{n:02}/air/air-c"))).values())
            last = heard.state[f"homie/5/c{n:02}/air/air-c"]
            assert last == had[-1], f"c{n:02} stands at {last}, not at {had[-1]}"
        events = {json.loads(p)["text"] for p in heard.payloads("events/event")}
        sent_events = {f"{n}-{s}" for s in range(FLEET_S) for n in range(CHAMBERS) if (s + n) % 10 == 0}
    loss = 100.0 * missed / changes
    missing = sent_events - events
    busy = used.user + used.system - cpu.user - cpu.system
    print(
        f"fleet: {CHAMBERS} chambers, {FLEET_S} s, {len(heard.heard)} messages heard; changes of state {changes - missed} of {changes}, lost {loss:.2f} %; "
        f"alerts {len(sent_events) - len(missing)} of {len(sent_events)}; {busy / FLEET_S:.2f} of a core for all of them and the listener"
    )
    return loss <= 1.0 and not missing


def outage(folder: Path) -> bool:
    """Two days' events wait in the outbox, over a restart; then the broker is there."""
    path = folder / "outbox.db"
    before_mb = psutil.Process().memory_info().rss / 1e6
    box = Outbox(path, [LANE])
    event = Event(kind="alarm", subject="bench", severity="alarm", text="x" * 120, meaning="y" * 90, advice="z" * 90)
    for number in range(OUTAGE_LETTERS):
        box.put([Draft(LANE, "alarm", json.dumps({"text": number, "more": [event.text, event.meaning, event.advice]}))])
    box.flush(60.0)
    box.close()
    held_mb = psutil.Process().memory_info().rss / 1e6 - before_mb
    with broker(folder) as served, line(served.port) as wire, listener(served.port) as heard:
        wire.mode = "refuse"
        with _house_with(folder, path, wire.port) as one:
            one.turn(22.0)
            time.sleep(8.0)  # by now it waits its longest between attempts
            wire.mode = "pass"
            back = time.monotonic()
            until(lambda: one.outbox.waiting().letters == 0, within_s=60.0, what="everything delivered")
            took_s = time.monotonic() - back
            until(lambda: heard.state.get("homie/5/shed/$state") == "ready", within_s=10.0, what="ready")
            right_s = time.monotonic() - back
        order = [json.loads(p)["text"] for p in heard.payloads("events/event") if '"more"' in p]
    firsts = list(dict.fromkeys(order))
    complete = firsts == list(range(OUTAGE_LETTERS))
    print(
        f"outage: {OUTAGE_LETTERS} letters delivered {took_s:.1f} s after the line was back (state right after {right_s:.1f} s), in order and complete: {complete}, "
        f"{len(order) - len(firsts)} twice; memory for them {held_mb:.1f} MB"
    )
    return complete and took_s <= 10.0


def _house_with(folder: Path, box: Path, port: int):  # type: ignore[no-untyped-def]
    (folder / "h").mkdir()
    for ending in ("", "-wal"):
        if Path(f"{box}{ending}").exists():
            Path(f"{box}{ending}").rename(folder / "h" / f"outbox.db{ending}")
    return house(folder / "h", plain(port))


def main() -> Iterator[bool]:
    wanted = sys.argv[1:] or ["cost", "fleet", "outage"]
    for name in wanted:
        with tempfile.TemporaryDirectory() as folder:
            yield {"cost": cost, "fleet": fleet, "outage": outage}[name](Path(folder))


if __name__ == "__main__":
    good = list(main())
    sys.exit(not all(good))
