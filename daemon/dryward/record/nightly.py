"""What the record needs once a night: a checked backup, old details thinned out, a look at how long the disk lasts."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from dryward.record.keeping import DAY_S, KeepingError, back_up, backups, copy_off, forecast
from dryward.record.queries import ReadError, Record
from dryward.record.writer import RecordWriter

TELL_DAYS = 60.0
"""A disk that is full sooner than this needs somebody's hand."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Night:
    """What was done, sentence by sentence, and what somebody has to see to; ``worries`` empty: all is well."""

    done: tuple[str, ...]
    worries: tuple[str, ...]


def nightly(
    path: Path,
    writer: RecordWriter,
    *,
    folder: Path,
    keep_days: float,
    at_utc_s: float,
    keep: int = 7,
    away: Path | None = None,
) -> Night:
    """Back the record up into ``folder`` (and copy that to ``away``, another disk), thin what is older than ``keep_days``, forecast its size.

    For a thread of its own: it may take minutes on a slow card. Raises nothing that a disk can do.
    """
    done: list[str] = []
    worries: list[str] = []
    try:
        made = back_up(path, folder, at_utc_s=at_utc_s, keep=keep)
        done.append(f"Backup {made.name} made and checked.")
        if away is not None:
            copy_off(made, away)
            for old in backups(away, path)[:-keep]:
                old.unlink(missing_ok=True)
            done.append(f"Copied to {away}.")
    except (KeepingError, OSError) as why:
        worries.append(f"{str(why)[:1].upper()}{str(why)[1:]}.")
    try:
        with Record(path) as record:
            before = record.tick_at(at_utc_s - keep_days * DAY_S)
        if before is not None:
            writer.thin(before)
            done.append(f"Details older than {keep_days:g} days are thinned to low, mean and high of five minutes.")
        coming = forecast(path)
    except (ReadError, OSError) as why:
        return Night(done=tuple(done), worries=(*worries, f"The record's size is not known: {why}."))
    said = f"The record holds {coming.size / 1e6:.0f} MB"
    if coming.per_day is not None and coming.days_left is not None:
        said += f", grows {coming.per_day / 1e6:.1f} MB a day, and the disk is full in {coming.days_left:.0f} days"
        if coming.days_left < TELL_DAYS:
            worries.append(f"{said}: make room, or keep fewer days ([record] keep_days).")
    done.append(f"{said}.")
    return Night(done=tuple(done), worries=tuple(worries))
