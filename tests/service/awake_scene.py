"""A machine that wakes up: its clocks, a run, the record and the copy of the state that it finds."""

from __future__ import annotations

from pathlib import Path

import pytest

from dryward.core.alarms import tripped
from dryward.core.commands import Commands
from dryward.core.inputs import NOTHING, Notice
from dryward.record.moments import Session, Stamp
from dryward.record.writer import RecordWriter
from dryward.service import awake as module
from dryward.service.awake import Awake, StateCopy, wake
from tests.core.bench_chamber import Bench

BOOT = "boot-1"
NOW_BOOTTIME_S = 50_000.0
NOW_UTC_S = 1.76e9


def on(
    patch: pytest.MonkeyPatch,
    *,
    boot: str = BOOT,
    boottime_s: float = NOW_BOOTTIME_S,
    utc_s: float = NOW_UTC_S,
    right: bool = True,
) -> None:
    patch.setattr(module, "boot_id", lambda: boot)
    patch.setattr(module, "boottime_s", lambda: boottime_s)
    patch.setattr(module, "time", lambda: utc_s)
    patch.setattr(module, "synchronised", lambda: right)


def stamp(ago_s: float = 0.0, *, right: bool = True) -> Stamp:
    return Stamp(utc_s=NOW_UTC_S - ago_s, boottime_s=NOW_BOOTTIME_S - ago_s, synchronised=right)


def running(ticks: int = 10) -> Bench:
    bench = Bench.of()
    bench.begin()
    bench.turns(ticks - 1, 22.0)
    return bench


def tripped_bench() -> Bench:
    """A run that a dying keeper has tripped."""
    bench = running()
    bench.turn(22.0, notices=[Notice("keeper-lost", 3.0, "died")])
    assert tripped(bench.state.alarms)
    return bench


def record(path: Path, bench: Bench, *, ago_s: float = 2.0, right: bool = True) -> None:
    """Write a record whose last tick is the bench's."""
    session = Session(
        chamber=bench.layout.chamber, first_tick=bench.tick, stamp=stamp(ago_s, right=right), boot_id=BOOT, version="0"
    )
    writer = RecordWriter(path, session, threaded=False)
    writer.put(bench.tick, stamp(ago_s, right=right), NOTHING, Commands(keep=True), bench.state)
    assert writer.close()


def copy(folder: Path, bench: Bench, *, ago_s: float = 2.0, right: bool = True) -> StateCopy:
    StateCopy(folder / "c.state").write(bench.tick, stamp(ago_s, right=right), bench.state)
    return StateCopy(folder / "c.state")


def woken(folder: Path, bench: Bench) -> Awake:
    return wake(bench.layout, folder / "r.db", StateCopy(folder / "c.state"))
