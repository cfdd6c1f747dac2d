"""Waking up: which state to go on with, how long dryward was away, whether it is waking too often.

The newest checkpoint wins, from the record or from the copy beside the socket. The copy is written every tick: it is
right to one tick after a crash, and it is there when the record is damaged or its disk is full. What was tripped stays
tripped.
"""

from __future__ import annotations

import contextlib
import json
import os
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from time import time
from zlib import crc32

from dryward.core.commands import Event
from dryward.core.faults import FAULTS
from dryward.core.inputs import Notice
from dryward.core.layout import Layout
from dryward.core.phases import ACTIVE, MAY_HEAT
from dryward.core.state import State, adopt, first_state
from dryward.record.checkpoint import from_json, to_json
from dryward.record.lines import Checkpoint
from dryward.record.moments import Stamp
from dryward.record.recovery import recover
from dryward.service.clock import boot_id, boottime_s, synchronised

CRASH_STARTS = 3
CRASH_WINDOW_S = 600.0
UNKNOWN_S = -1.0
SAID_WRITES = 60  # copies, one a tick; by then what was said is in record and outbox, or both their disks have failed
SAID_MOST = 50  # events: some 20 kB
LEARN_S = 600.0  # a clock that is not set so long after waking is not waited for


@dataclass(frozen=True, slots=True)
class Awake:
    """What the loop begins with. ``unsure`` is kept where the wall clock may still tell how long the outage was.

    ``why`` says what was wrong with the record, ``lost`` why nothing could be gone on with though something was there.
    """

    state: State
    first_tick: int
    notices: tuple[Notice, ...]
    why: str
    fresh: bool
    lost: str = ""
    unsure: Unsure | None = None


@dataclass(frozen=True, slots=True)
class Unsure:
    """An outage of unknown length, because this machine's clock was not yet set when dryward woke (a Pi has no battery)."""

    gone_utc_s: float
    woke_boottime_s: float

    def learn(self, stamp: Stamp) -> float | None:
        """Return the length of the outage, s, once the clock is set; UNKNOWN_S when it will not be told; None: not yet."""
        awake_s = stamp.boottime_s - self.woke_boottime_s
        if stamp.synchronised:
            away_s = stamp.utc_s - awake_s - self.gone_utc_s
            return away_s if away_s >= 0.0 else UNKNOWN_S
        return UNKNOWN_S if awake_s > LEARN_S else None


def wake(layout: Layout, record: Path, copy: StateCopy) -> Awake:
    """Return where to go on. Never raises for a damaged record or copy."""
    found = recover(record, at_utc_s=time())
    unread = ""
    known = [] if found.checkpoint is None else [found.checkpoint]
    for checkpoint in sorted([*known, *copy.read()], key=lambda c: -c.tick):  # stable: the record comes first
        try:
            state, whole = _adopted(layout, checkpoint)
        except ValueError as error:
            unread = unread or f"the state of tick {checkpoint.tick} could not be read ({error})"
            continue
        away_s = _away_s(checkpoint)
        ticks = 0 if away_s < 0.0 else int(away_s // layout.chamber.period_s)
        first_tick = max(checkpoint.tick + 1 + ticks, found.next_tick, int(state.now // layout.chamber.period_s) + 1)
        notices = (Notice("restarted", away_s if whole else UNKNOWN_S),) if state.run.phase in ACTIVE else ()
        why = "; ".join(w for w in (found.why, unread) if w)
        return Awake(state, first_tick, notices, why, False, unsure=_unsure(checkpoint, state, whole=whole))
    return Awake(first_state(layout), max(1, found.next_tick), (), found.why, True, unread or found.why)


def _adopted(layout: Layout, checkpoint: Checkpoint) -> tuple[State, bool]:
    """Return the state, and whether this dryward knows all of it: an alarm of another version is dropped. Raises ValueError."""
    state = adopt(layout, from_json(State, checkpoint.state))
    alarms = tuple(a for a in state.alarms if a.key in FAULTS)
    return replace(state, alarms=alarms), len(alarms) == len(state.alarms)


def _away_s(checkpoint: Checkpoint) -> float:
    """How long ago the checkpoint was, s; UNKNOWN_S when neither clock can tell."""
    if checkpoint.boot_id and checkpoint.boot_id == boot_id():
        return max(0.0, boottime_s() - checkpoint.boottime_s)
    if checkpoint.synchronised and synchronised():
        away_s = time() - checkpoint.utc_s
        return away_s if away_s >= 0.0 else UNKNOWN_S
    return UNKNOWN_S


def _unsure(checkpoint: Checkpoint, state: State, *, whole: bool) -> Unsure | None:
    may_learn = whole and checkpoint.synchronised and checkpoint.boot_id != boot_id() and not synchronised()
    if not may_learn or state.run.phase not in MAY_HEAT:
        return None
    return Unsure(checkpoint.utc_s, boottime_s())


class StateCopy:
    """The newest state in two files that are overwritten in turn, each with its checksum.

    With it, for a minute, what the ticks have said: a process killed between this copy and the first commit of record
    and outbox would otherwise go on past events that nobody was ever told. ``said`` is what the last life left here:
    tick, UTC s, event.

    Whatever moment the process is killed at, one of the two is whole. Overwriting in place needs no room on a full disk
    and, unlike renaming, forces nothing out to a card. Not synced: it need not survive a power cut, the record does.
    """

    def __init__(self, path: Path) -> None:
        self._paths = [path.with_name(f"{path.name}.{slot}") for slot in (0, 1)]
        self._next = 0
        self._boot_id = boot_id()
        self._events: list[tuple[int, float, str]] = []
        self._writes_left = 0
        self.said: tuple[tuple[int, float, Event], ...] = ()

    def write(self, tick: int, stamp: Stamp, state: State, events: Sequence[Event] = ()) -> None:
        """Write the state of ``tick`` and what it said. A failure is nobody's matter here: the record is the other half."""
        self._writes_left = SAID_WRITES if events else self._writes_left - 1
        kept = self._events if self._writes_left > 0 else []
        self._events = [*kept, *((tick, stamp.utc_s, to_json(event)) for event in events)][-SAID_MOST:]
        told = {
            "tick": tick,
            "boot_id": self._boot_id,
            "boottime_s": stamp.boottime_s,
            "utc_s": stamp.utc_s,
            "synchronised": stamp.synchronised,
            "state": to_json(state),
            "said": self._events,
        }
        body = json.dumps(told).encode()
        with contextlib.suppress(OSError):
            _overwrite(self._paths[self._next], b"%08x\n%s" % (crc32(body), body))
            self._next = 1 - self._next

    def read(self) -> list[Checkpoint]:
        """Return what whole copies there are, and leave the newest alone at the next ``write``."""
        found = [_copied(path) for path in self._paths]
        ticks = [-1 if c is None else c[0].tick for c in found]
        self._next = ticks.index(min(ticks))
        whole = [c for c in found if c is not None]
        if whole:
            # Kept on: this life may be killed too before anybody was told.
            self._events, self._writes_left = max(whole, key=lambda c: c[0].tick)[1], SAID_WRITES
            self.said = tuple(_events(self._events))
        return [checkpoint for checkpoint, _ in whole]


def _overwrite(path: Path, whole: bytes) -> None:
    fd = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_CLOEXEC, 0o640)
    try:
        os.pwrite(fd, whole, 0)
        os.ftruncate(fd, len(whole))
    finally:
        os.close(fd)


def _copied(path: Path) -> tuple[Checkpoint, list[tuple[int, float, str]]] | None:
    try:
        head, _, body = path.read_bytes().partition(b"\n")
        if int(head, 16) != crc32(body):
            return None
        told = json.loads(body)
        said = [(int(tick), float(utc_s), str(event)) for tick, utc_s, event in told.pop("said", [])]
        return Checkpoint(**told), said
    except (OSError, ValueError, TypeError, AttributeError):
        return None


def _events(said: Iterable[tuple[int, float, str]]) -> Iterable[tuple[int, float, Event]]:
    for tick, utc_s, event in said:
        with contextlib.suppress(ValueError):  # of another version of dryward
            yield tick, utc_s, from_json(Event, event)


def count_starts(path: Path) -> Notice | None:
    """Count this start; return the notice of a crash loop when it is the third within ten minutes of one boot (F24)."""
    now_s, boot = boottime_s(), boot_id()
    starts = [*_starts(path, boot, now_s), now_s][-100:]
    fresh = path.with_suffix(".new")
    with contextlib.suppress(OSError):
        path.parent.mkdir(parents=True, exist_ok=True)
        fresh.write_text(json.dumps({"boot_id": boot, "starts_s": starts}))
        os.replace(fresh, path)
    return Notice("crash-loop", float(len(starts))) if len(starts) >= CRASH_STARTS else None


def _starts(path: Path, boot: str, now_s: float) -> Iterable[float]:
    try:
        known = json.loads(path.read_text())
        return [float(s) for s in known["starts_s"] if known["boot_id"] == boot and now_s - float(s) < CRASH_WINDOW_S]
    except (OSError, ValueError, KeyError, TypeError):
        return ()


def forgive_starts(path: Path) -> None:
    """Forget the starts: dryward was ended in order, which is no crash."""
    with contextlib.suppress(OSError):
        path.unlink()


def left_behind(layout: Layout, state: State) -> str:
    """Say what an end in order leaves behind when a run is under way; empty when none is."""
    if state.run.phase not in ACTIVE:
        return ""
    within_min = layout.chamber.limits.outage_ramp_s / 60.0
    return (
        f". RUN {state.run.run_id} IS NOT AT ITS END ({state.run.phase}): nothing heats, cools or watches the meat now. "
        f"Start dryward again within {within_min:.0f} min and it goes on where it was; later the run is held and asks. "
        "Or take the pieces out and keep them cold"
    )
