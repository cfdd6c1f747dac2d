"""Looks after the file: a checked backup, putting one back, and how long the disk will last.

All of it may run beside the writer, in any thread: it only reads the record. (Never copy the live file: half of the
newest rows are in the file beside it.)
"""

from __future__ import annotations

import os
import shutil
import sqlite3
from contextlib import closing, suppress
from dataclasses import dataclass
from pathlib import Path

from dryward.record.damage import dated, move_aside
from dryward.record.queries import connect, open_readonly
from dryward.record.schema import newest, schema_of

DAY_S = 86_400.0


class KeepingError(Exception):
    """A backup or a restore could not be made; the text says why and what to do."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Forecast:
    """Size of the record, bytes, its growth, and the days until the disk is full at that pace (None: not known yet)."""

    size: int
    free: int
    per_day: float | None
    days_left: float | None


def back_up(path: Path, folder: Path, *, at_utc_s: float, keep: int = 7) -> Path:
    """Write a compact, checked copy of the record into ``folder`` and return it; older ones beyond ``keep`` are deleted.

    ``folder`` is best on another disk. The copy has its final name only when it is whole and durable. Raises KeepingError.
    """
    target = copy_whole(path, folder / f"{path.stem}-{dated(at_utc_s)}{path.suffix}")
    for old in backups(folder, path)[:-keep]:
        old.unlink(missing_ok=True)
    return target


def copy_whole(path: Path, target: Path) -> Path:
    """Write a compact, checked copy of the record to ``target``, which has its name only when it is whole and durable. Raises KeepingError."""
    partial = target.with_name(target.name + ".partial")
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        _room_for(path, target.parent)
        partial.unlink(missing_ok=True)
        with closing(open_readonly(path)) as conn:
            conn.execute("VACUUM INTO ?", (str(partial),))
        check(partial)
        settle(partial, target)
    except (sqlite3.Error, OSError) as why:
        with suppress(OSError):
            partial.unlink(missing_ok=True)
        raise KeepingError(f"no backup of {path} in {target.parent}: {why}") from why
    return target


def backups(folder: Path, path: Path) -> list[Path]:
    """Return the finished backups of ``path`` in ``folder``, the oldest first."""
    return sorted(folder.glob(f"{path.stem}-[0-9]*T[0-9]*Z{path.suffix}"))


def copy_off(backup: Path, folder: Path) -> Path:
    """Copy a finished backup to another disk, check the copy and return it. Raises KeepingError."""
    target = folder / backup.name
    partial = target.with_name(target.name + ".partial")
    try:
        if not folder.is_dir():
            raise NotADirectoryError("the folder is not there; is the disk plugged in and mounted?")
        _room_for(backup, folder)
        shutil.copyfile(backup, partial)
        check(partial)
        settle(partial, target)
    except (sqlite3.Error, OSError) as why:
        with suppress(OSError):
            partial.unlink(missing_ok=True)
        raise KeepingError(f"{backup.name} was not copied to {folder}: {why}") from why
    return target


def restore(backup: Path, path: Path, *, at_utc_s: float) -> Path | None:
    """Put a backup in the place of the record; return where the present one was set aside. The daemon must not be running.

    The backup stays. Raises KeepingError when it is damaged or of a newer version, and then nothing has changed.
    """
    partial = path.with_name(path.name + ".partial")
    try:
        schema = check(backup)
        if schema > newest():
            raise KeepingError(
                f"{backup} has schema {schema}, this dryward knows up to {newest()}: install the newer version first"
            )
        _room_for(backup, path.parent)
        shutil.copyfile(backup, partial)
        check(partial)
        aside = move_aside(path, at_utc_s=at_utc_s, word="replaced") if path.exists() else None
        settle(partial, path)
    except (sqlite3.Error, OSError) as why:
        with suppress(OSError):
            partial.unlink(missing_ok=True)
        raise KeepingError(f"{backup} was not restored to {path}: {why}") from why
    return aside


def check(path: Path) -> int:
    """Read the whole of a file that nobody writes and return its schema. Raises sqlite3.DatabaseError when it is damaged."""
    with closing(connect(path, "mode=ro&immutable=1")) as conn:
        found = [line for (line,) in conn.execute("PRAGMA integrity_check")]
        schema = schema_of(conn)
        if schema == 1:  # what SQLite 3.40 takes for damage in it: sql/0002.sql
            found = [line for line in found if not line.startswith("NULL value in lost.")] or ["ok"]
        if found != ["ok"]:
            raise sqlite3.DatabaseError(f"{path.name} is damaged: {'; '.join(found[:3])}")
        return schema


def forecast(path: Path) -> Forecast:
    """Return size and growth of the record: the average over the time of which single readings are kept."""
    with closing(open_readonly(path)) as conn:
        page, pages, unused = (
            int(conn.execute(f"PRAGMA {name}").fetchone()[0]) for name in ("page_size", "page_count", "freelist_count")
        )
        recorded_s = conn.execute(
            "SELECT coalesce(sum((last_tick + 1 - max(first_tick, coalesce((SELECT min(reading_id) >> 12 FROM reading), 0))) * period_s), 0.0) FROM session"
            " WHERE last_tick >= coalesce((SELECT min(reading_id) >> 12 FROM reading), 0)"
        ).fetchone()[0]
    free = shutil.disk_usage(path.parent).free
    per_day = None if recorded_s < 3600.0 else (pages - unused) * page / (recorded_s / DAY_S)
    return Forecast(
        size=pages * page,
        free=free,
        per_day=per_day,
        days_left=None if not per_day else (free + unused * page) / per_day,
    )


def settle(partial: Path, target: Path) -> None:
    """Give a finished file its name so that it survives a power cut: content first, then the name, then the folder."""
    for place, flags in ((partial, os.O_RDWR), (partial.parent, os.O_RDONLY)):
        handle = os.open(place, flags)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
        if place == partial:
            os.replace(partial, target)


def _room_for(path: Path, folder: Path) -> None:
    needed, free = round(path.stat().st_size * 1.05), shutil.disk_usage(folder).free
    if free < needed:
        raise OSError(
            f"it needs {needed / 1e6:.1f} MB and {folder} has {free / 1e6:.1f} MB free: make room or choose another disk"
        )
