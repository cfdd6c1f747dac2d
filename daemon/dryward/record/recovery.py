"""What the daemon does with the record before its first tick: take up the last state, or set a damaged file aside."""

from __future__ import annotations

import sqlite3
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path

from dryward.record.damage import is_damaged, move_aside
from dryward.record.lines import Checkpoint
from dryward.record.queries import Record
from dryward.record.schema import NewerSchema, newest


@dataclass(frozen=True, slots=True, kw_only=True)
class Recovered:
    """Where the last session left off. ``next_tick`` is free for a new one; ``why`` is a sentence when something was wrong."""

    checkpoint: Checkpoint | None = None
    next_tick: int = 0
    set_aside: Path | None = None
    why: str = ""


def recover(path: Path, *, at_utc_s: float) -> Recovered:
    """Return the newest state in the record. Never raises.

    A damaged file (or one of a newer dryward) is renamed to a dated name beside it, after its state was read if it can be:
    tripped must stay tripped. A file that merely cannot be read now is left alone, and ``why`` says so.
    """
    path = Path(path)
    found = Recovered()
    for _ in range(2):  # what looks damaged once may be a bad read
        found, why = _look(path)
        if why is None:
            return found
        if not (is_damaged(why) or isinstance(why, NewerSchema)):
            return replace(found, why=f"the record {path} could not be read and was left where it is: {why}")
    try:
        aside = move_aside(path, at_utc_s=at_utc_s)
    except OSError as stuck:
        return replace(found, why=f"the record {path} is damaged ({why}) and could not be set aside: {stuck}")
    return replace(
        found, set_aside=aside, why=f"the record {path} was set aside as {aside.name} and a new one is begun: {why}"
    )


def _look(path: Path) -> tuple[Recovered, Exception | None]:
    """Return as much as can be read, and what stood in the way."""
    found = Recovered()
    try:
        if not path.exists():
            return found, None
        with Record(path) as record:
            with suppress(sqlite3.DatabaseError):
                checkpoint = record.latest_checkpoint()
                found = Recovered(checkpoint=checkpoint, next_tick=0 if checkpoint is None else checkpoint.tick + 1)
            record.check_open()
            schema = record.schema
            found = replace(found, next_tick=max(found.next_tick, record.last_tick() + 1))
        return found, NewerSchema(
            f"it has schema {schema}, this dryward knows up to {newest()}"
        ) if schema > newest() else None
    except (sqlite3.Error, OSError) as why:
        return found, why
