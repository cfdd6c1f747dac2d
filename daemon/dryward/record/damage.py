"""A damaged file: how it is recognised, set aside, and what can still be read from it."""

from __future__ import annotations

import contextlib
import os
import sqlite3
from pathlib import Path

from dryward.record.moments import utc_text


def dated(utc_s: float) -> str:
    """A moment as it may stand in a file's name: 20251009T085320Z."""
    return utc_text(utc_s)[:19].replace(":", "").replace("-", "") + "Z"


def move_aside(path: Path, *, at_utc_s: float, word: str = "damaged") -> Path:
    """Rename a file and its companions to a dated name beside it; return the new name. Nothing is deleted."""
    stem = path.with_name(f"{path.name}.{word}-{dated(at_utc_s)}")
    target, number = stem, 1
    while target.exists():
        number += 1
        target = stem.with_name(f"{stem.name}-{number}")
    for ending in ("-wal", "-shm", ""):
        with contextlib.suppress(FileNotFoundError):
            os.replace(f"{path}{ending}", f"{target}{ending}")
    return target


class Garbled(sqlite3.DatabaseError):
    """The file is broken in a way that SQLite or Python tells otherwise: in words that are no text, or not at all."""

    sqlite_errorcode = sqlite3.SQLITE_CORRUPT


def is_damaged(why: BaseException) -> bool:
    """Tell whether SQLite says that the file itself is broken, not the disk, the room or the rights.

    A damaged name in the schema comes back in SQLite's own complaint, which Python then cannot decode; a damaged text in
    a row is an error of Python's without a number.
    """
    if isinstance(why, UnicodeDecodeError) or (
        isinstance(why, sqlite3.OperationalError) and "Could not decode to UTF-8" in str(why)
    ):
        return True
    return _says(why, sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)


def is_locked(why: BaseException) -> bool:
    """Tell whether SQLite says that somebody else holds the file."""
    return _says(why, sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED)


def _says(why: BaseException, *codes: int) -> bool:
    code = getattr(why, "sqlite_errorcode", None)
    return code is not None and code & 0xFF in codes
