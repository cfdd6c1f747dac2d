"""What the daemon does with the record before its first tick: take up the last state, or set a damaged file aside."""

from __future__ import annotations

import sqlite3
from contextlib import suppress
from dataclasses import dataclass
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
    checkpoint, next_tick = None, 0
    try:
        if not path.exists():
            return Recovered()
        with Record(path) as record:
            with suppress(sqlite3.DatabaseError):
                checkpoint = record.latest_checkpoint()
            next_tick = 0 if checkpoint is None else checkpoint.tick + 1
            schema = record.check_open()
            next_tick = max(next_tick, record.last_tick() + 1)
        if schema > newest():
            raise NewerSchema(f"it has schema {schema}, this dryward knows up to {newest()}")
        return Recovered(checkpoint=checkpoint, next_tick=next_tick)
    except (sqlite3.Error, OSError, NewerSchema) as why:
        aside = None
        if is_damaged(why) or isinstance(why, NewerSchema):
            with suppress(OSError):
                aside = move_aside(path, at_utc_s=at_utc_s)
        place = "could not be read and was left where it is" if aside is None else f"was set aside as {aside.name} and a new one is begun"
        return Recovered(checkpoint=checkpoint, next_tick=next_tick, set_aside=aside, why=f"the record {path} {place}: {why}")
