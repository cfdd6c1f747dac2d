"""Waking up: which state to go on with, how long dryward was away, whether it is waking too often.

The newest checkpoint wins, from the record or from the small copy beside the socket (which survives a full disk, but
not a power cut). What was tripped stays tripped.
"""

from __future__ import annotations

import contextlib
import json
import os
from dataclasses import dataclass
from pathlib import Path
from time import time

from dryward.core.inputs import Notice
from dryward.core.layout import Layout
from dryward.core.phases import ACTIVE
from dryward.core.state import State, adopt, first_state
from dryward.record.checkpoint import from_json, to_json
from dryward.record.lines import Checkpoint
from dryward.record.recovery import recover
from dryward.service.clock import boot_id, boottime_s, synchronised

CRASH_STARTS = 3
CRASH_WINDOW_S = 600.0
UNKNOWN_S = -1.0


@dataclass(frozen=True, slots=True)
class Awake:
    """What the loop begins with."""

    state: State
    first_tick: int
    notices: tuple[Notice, ...]
    why: str
    fresh: bool


def wake(layout: Layout, record: Path, copy: Path) -> Awake:
    """Return where to go on. Never raises for a damaged record."""
    found = recover(record, at_utc_s=time())
    checkpoint = _newer(found.checkpoint, read_copy(copy))
    if checkpoint is None:
        return Awake(first_state(layout), max(1, found.next_tick), (), found.why, True)
    try:
        state = adopt(layout, from_json(State, checkpoint.state))
    except ValueError as error:
        why = f"The last state could not be read ({error}); dryward begins afresh. {found.why}".strip()
        return Awake(first_state(layout), max(1, found.next_tick), (), why, True)
    away_s = _away_s(checkpoint)
    ticks = 0 if away_s < 0.0 else int(away_s // layout.chamber.period_s)
    first_tick = max(checkpoint.tick + 1 + ticks, found.next_tick, int(state.now // layout.chamber.period_s) + 1)
    notices = (Notice("restarted", away_s),) if state.run.phase in ACTIVE else ()
    return Awake(state, first_tick, notices, found.why, False)


def _newer(one: Checkpoint | None, other: Checkpoint | None) -> Checkpoint | None:
    if one is None or other is None:
        return one or other
    return one if one.tick >= other.tick else other


def _away_s(checkpoint: Checkpoint) -> float:
    """How long ago the checkpoint was, s; UNKNOWN_S when neither clock can tell."""
    if checkpoint.boot_id and checkpoint.boot_id == boot_id():
        return max(0.0, boottime_s() - checkpoint.boottime_s)
    if checkpoint.synchronised and synchronised():
        away_s = time() - checkpoint.utc_s
        return away_s if away_s >= 0.0 else UNKNOWN_S
    return UNKNOWN_S


def write_copy(path: Path, tick: int, state: State) -> None:
    """Keep a copy of the state beside the socket, whole or not at all; a failure is nobody's matter here."""
    whole = {
        "tick": tick,
        "boot_id": boot_id(),
        "boottime_s": boottime_s(),
        "utc_s": time(),
        "synchronised": synchronised(),
        "state": to_json(state),
    }
    beside = path.with_suffix(".new")
    with contextlib.suppress(OSError):
        beside.write_text(json.dumps(whole))
        os.replace(beside, path)


def read_copy(path: Path) -> Checkpoint | None:
    """Read what ``write_copy`` wrote, or None."""
    try:
        return Checkpoint(**json.loads(path.read_text()))
    except (OSError, ValueError, TypeError):
        return None


def count_starts(path: Path) -> Notice | None:
    """Count this start; return the notice of a crash loop when it is the third within ten minutes of one boot (F24)."""
    now_s, boot = boottime_s(), boot_id()
    starts: list[float] = []
    with contextlib.suppress(OSError, ValueError, KeyError, TypeError):
        known = json.loads(path.read_text())
        if known["boot_id"] == boot:
            starts = [float(s) for s in known["starts_s"] if now_s - float(s) < CRASH_WINDOW_S]
    starts = [*starts, now_s][-100:]
    with contextlib.suppress(OSError):
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(json.dumps({"boot_id": boot, "starts_s": starts}))
    return Notice("crash-loop", float(len(starts))) if len(starts) >= CRASH_STARTS else None


def forgive_starts(path: Path) -> None:
    """Forget the starts: dryward was ended in order, which is no crash."""
    with contextlib.suppress(OSError):
        path.unlink()
