"""The daily summary of a run, as news for people and broker: progress, forecast, time out of band, what to do next."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from dryward.core.commands import Event
from dryward.core.phases import ACTIVE, ENDED
from dryward.core.progress import HOUR_S
from dryward.core.state import State
from dryward.record.digest import as_text, day_of, foreseen
from dryward.record.queries import Record

AFTER_END_H = 24.0
"""An ended run is summed up once more, should nobody have taken the pieces out."""


def worth_a_summary(state: State) -> bool:
    """Tell whether there is a run to speak of: one under way, or ended within a day and not cleared."""
    run = state.run
    if run.phase in ACTIVE:
        return True
    return run.phase in ENDED and run.ended_s is not None and state.now - run.ended_s < AFTER_END_H * HOUR_S


def summary(record: Path, run_id: str, status: Mapping[str, Any]) -> Event:
    """Return the summary of a run; ``status`` is asked what it foretells. Raises NoSuchRun, sqlite3.Error, OSError."""
    with Record(record) as past:
        day = day_of(past, run_id)
    visits = status.get("come_back") or ()
    day = foreseen(day, status.get("pieces", ()), next((v["text"] for v in visits), ""))
    text, _, following = as_text(day, zone=None).rpartition("\n")
    return Event(kind="daily-summary", subject=run_id, severity="notice", text=text, advice=following)
