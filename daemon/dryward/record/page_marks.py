"""What is marked along the time of a run: steps, holds, trips, alarms, and how it ended. Places are shares of the run, 0 to 1."""

from __future__ import annotations

import re
from dataclasses import dataclass

from dryward.core.commands import Event
from dryward.record.facts import Facts
from dryward.record.page_curves import Grid

MOST = 24
"""More trips or alarms than this are not marked one by one: the table has them all."""

HELD = ("holding", "held")
_PHASES = re.compile(r" to (\S+?)\.?$")
ENDS = {"aborted": "ABORTED", "stopped": "stopped", "": "no end yet"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """From ``at`` to ``to`` (a moment: the same). ``kind`` is step, hold, trip, alarm or end; ``row`` its line in the alarms table."""

    kind: str
    at: float
    to: float
    text: str = ""
    row: int = 0


def marks(facts: Facts, grid: Grid) -> list[Mark]:
    """Return all marks of a run, in the order of their kinds."""
    steps = [
        Mark(kind="step", at=grid.share(s.began_tick), to=grid.share(s.ended_tick or grid.last), text=s.name)
        for s in facts.steps
    ]
    end = ENDS.get(facts.run.end_state)
    last = [] if end is None else [Mark(kind="end", at=1.0, to=1.0, text=end)]
    return [*steps, *_holds(facts, grid), *_alarms(facts, grid), *last]


def phase_told(event: Event) -> str:
    """Return the phase of the run that an event tells of, empty when it tells of none."""
    if event.kind == "phase" and (gone := _PHASES.search(event.text)) is not None:
        return gone[1]
    return event.kind.removeprefix("run-") if event.kind.startswith("run-") else ""


def _holds(facts: Facts, grid: Grid) -> list[Mark]:
    found: list[Mark] = []
    since: float | None = None
    for told in facts.events:
        phase = phase_told(told.event)
        if not phase:
            continue
        held = phase in HELD
        if held and since is None:
            since = grid.share(told.tick)
        elif not held and since is not None:
            found.append(Mark(kind="hold", at=since, to=grid.share(told.tick), text="held"))
            since = None
    if since is not None:
        found.append(Mark(kind="hold", at=since, to=1.0, text="held"))
    return found


def _alarms(facts: Facts, grid: Grid) -> list[Mark]:
    told = [e for e in facts.events if e.event.severity in ("warning", "alarm", "trip")]
    found = [
        Mark(kind=str(e.event.severity), at=grid.share(e.tick), to=grid.share(e.tick), text=e.event.text, row=row)
        for row, e in enumerate(told, start=1)
        if e.event.severity in ("alarm", "trip")
    ]
    trips = [m for m in found if m.kind == "trip"]
    return [*trips[:MOST], *[m for m in found if m.kind == "alarm"][:MOST]]
