"""Replay: step the engine through a recorded run and compare every decision with the recorded one, bit for bit."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

from dryward import __version__
from dryward.core.commands import Commands
from dryward.core.engine import step
from dryward.core.layout import Layout, lay_out
from dryward.core.state import State
from dryward.record.checkpoint import from_json
from dryward.record.queries import Record

SHOWN = 20


@dataclass(frozen=True, slots=True)
class Difference:
    """A tick that decides otherwise now."""

    tick: int
    what: str
    recorded: str
    now: str


@dataclass(frozen=True, slots=True)
class Replayed:
    """The outcome; ``differences`` holds the first of them, ``different`` counts all."""

    run_id: str
    ticks: int
    decisions: int
    different: int
    differences: tuple[Difference, ...]
    lost_readings: int
    recorded_by: tuple[str, ...] = ()  # versions of dryward

    def text(self) -> str:
        """Say it."""
        if self.lost_readings:
            note = (
                f" {self.lost_readings} readings were lost while the record could not be written: expect differences."
            )
        else:
            note = ""
        if not self.different:
            return f"{self.run_id}: {self.ticks} ticks, {self.decisions} events and replies, every decision the same.{note}"
        lines = [f"{self.run_id}: {self.different} of {self.ticks} ticks decide otherwise.{note}"]
        if set(self.recorded_by) - {__version__}:
            lines.append(
                f"  Recorded by dryward {', '.join(self.recorded_by)}, stepped by {__version__}: a newer version may decide"
                " otherwise on purpose. Send the record if you doubt it."
            )
        if self.different > len(self.differences):
            lines.append(f"  The first {len(self.differences)} of them:")
        lines += [f"  tick {d.tick}, {d.what}: recorded {d.recorded}; now {d.now}" for d in self.differences]
        return "\n".join(lines)


class Stepped(NamedTuple):
    """One tick of a run, stepped again."""

    tick: int
    layout: Layout
    state: State
    commands: Commands


def stepped(record: Record, run_id: str) -> Iterator[Stepped]:
    """Step the engine through run ``run_id`` as it was recorded. Raises NoSuchRun, LookupError where no state is kept."""
    ahead = sorted(record.stretches(run_id), key=lambda s: s.first_tick)
    state: State | None = None
    layout = None
    period_s = 1.0
    for tick, inputs in record.inputs(run_id):
        stretch = None
        while ahead and ahead[0].first_tick <= tick:  # a busy machine may have left out a session's first ticks
            stretch = ahead.pop(0)
        if stretch is not None or state is None or layout is None:
            if stretch is None or stretch.start_state is None:
                raise LookupError(f"run {run_id} has no state to begin from at tick {tick}: it cannot be replayed")
            state, layout, period_s = from_json(State, stretch.start_state), lay_out(stretch.chamber), stretch.period_s
        state, commands = step(layout, state, inputs, tick * period_s)
        yield Stepped(tick, layout, state, commands)


def replay(record: Record, run_id: str) -> Replayed:
    """Step through run ``run_id`` and compare. Raises NoSuchRun, LookupError where it cannot be stepped."""
    if record.thinned(run_id):
        raise LookupError(
            f"run {run_id} cannot be replayed: its single readings were thinned out after a year, and without them the engine would "
            "decide otherwise. It can be reviewed as before."
        )
    found: list[Difference] = []
    ticks = decisions = different = 0
    for now, (_, recorded) in zip(stepped(record, run_id), record.decisions(run_id), strict=True):
        ticks += 1
        decisions += len(recorded.events) + len(recorded.replies)
        difference = _compare(now.tick, recorded, now.commands)
        if difference is not None:
            different += 1
            if len(found) < SHOWN:
                found.append(difference)
    versions = tuple(dict.fromkeys(s.version for s in record.stretches(run_id)))
    return Replayed(run_id, ticks, decisions, different, tuple(found), record.lost(run_id), versions)


def _compare(tick: int, recorded: Commands, now: Commands) -> Difference | None:
    if recorded.on != now.on:
        return Difference(
            tick, "outputs", ", ".join(sorted(recorded.on)) or "none", ", ".join(sorted(now.on)) or "none"
        )
    if recorded.events != now.events:
        return Difference(tick, "events", str([e.text for e in recorded.events]), str([e.text for e in now.events]))
    if recorded.replies != now.replies:
        return Difference(tick, "replies", str([r.text for r in recorded.replies]), str([r.text for r in now.replies]))
    return None
