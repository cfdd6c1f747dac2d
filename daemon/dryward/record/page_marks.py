"""What is marked along the time of a run: steps, holds, trips, alarms, and how it ended. Places are shares of the run, 0 to 1."""

from __future__ import annotations

import re
from dataclasses import dataclass

from dryward.record.facts import Facts
from dryward.record.page_curves import Grid

MOST = 24
"""More trips or alarms than this are not marked one by one: the table has them all."""

_PHASES = re.compile(r" to (\S+?)\.?$")
ENDS = {"aborted": "ABORTED", "stopped": "stopped", "": "no end recorded"}


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


def _holds(facts: Facts, grid: Grid) -> list[Mark]:
    found: list[Mark] = []
    since: float | None = None
    for told in facts.events:
        kind = told.event.kind
        gone = _PHASES.search(told.event.text) if kind == "phase" else None
        if gone is None and not kind.startswith("run-"):
            continue
        held = (gone[1] if gone is not None else kind.removeprefix("run-")) in ("holding", "held")
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
