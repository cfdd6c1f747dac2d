"""The tables of the record and how an older file is brought up to date.

The schema's number is in ``PRAGMA user_version``; ``sql/NNNN.sql`` leads from NNNN-1 to NNNN and is never changed once
released. Views carry no data and are made anew each time.
"""

from __future__ import annotations

import re
import sqlite3
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sqlite_utils import Database

SPAN_S = 300.0
"""Length of one span, s: short enough to see a door, long enough that a year of ten channels is 60 MB."""

THINNED = "thinned"
"""In table ``lost``, the reason why of the readings that were given up on purpose after a year."""


class NewerSchema(Exception):
    """The file was written by a newer dryward, which this one must not write into."""


class NoRecord(sqlite3.DatabaseError):
    """A SQLite file that is not dryward's, or has nothing in it yet."""

    def __init__(self, text: str, *, of_others: bool) -> None:
        super().__init__(text)
        if of_others:  # to be treated like any other file that is no record
            self.sqlite_errorcode = sqlite3.SQLITE_NOTADB


def schema_of(conn: sqlite3.Connection) -> int:
    """Return the number of a record's schema. Raises NoRecord."""
    schema = int(conn.execute("PRAGMA user_version").fetchone()[0])
    tables = [table for (table,) in conn.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
    if schema < 1 or "reading" not in tables:
        raise NoRecord("it is not a record of dryward" if tables else "it is empty", of_others=bool(tables))
    return schema


@cache
def steps() -> tuple[str, ...]:
    """Return the migrations in order; the first makes schema 1 from nothing."""
    found = sorted(
        item.name for item in (files("dryward.record") / "sql").iterdir() if re.fullmatch(r"\d{4}\.sql", item.name)
    )
    return tuple(_text(name) for name in found)


def newest() -> int:
    """Return the number of the schema this version writes."""
    return len(steps())


def migrate(db: Database, *, upto: int | None = None) -> int:
    """Bring ``db`` to schema ``upto`` (left out: the newest), in one transaction. Return the schema it had.

    Raises NewerSchema when the file is ahead of this program.
    """
    had = int(db.execute("PRAGMA user_version").fetchone()[0])
    if had > newest():
        raise NewerSchema(
            f"the record has schema {had}, this dryward knows up to {newest()}: install the newer version again"
        )
    goal = newest() if upto is None else upto
    if had < goal:  # all or nothing: between two steps there are no views, and a power cut may come at any moment
        views = _text("views.sql") if goal == newest() else ""
        _in_one(db, [*_drop_views(db), *steps()[had:goal], views, f"PRAGMA user_version = {goal};"])
    if had == goal == newest() and _views_of(db) != _newest_views():
        _in_one(db, [*_drop_views(db), _text("views.sql")])  # the same tables, seen by the views of this version
    return had


def _drop_views(db: Database) -> list[str]:
    return [f"DROP VIEW {name};" for name in db.view_names()]


def _in_one(db: Database, script: list[str]) -> None:
    try:
        db.conn.executescript("\n".join(["BEGIN IMMEDIATE;", *script, "COMMIT;"]))
    except BaseException:
        db.rollback()
        raise


def _views_of(db: Database) -> set[str]:
    return {sql for (sql,) in db.execute("SELECT sql FROM sqlite_master WHERE type = 'view'")}


@cache
def _newest_views() -> frozenset[str]:
    """Return the views as SQLite keeps them: word for word, from CREATE on."""
    return frozenset(
        f"CREATE VIEW {part.rstrip().rstrip(';')}" for part in _text("views.sql").split("CREATE VIEW ")[1:]
    )


def _text(name: str) -> str:
    return (files("dryward.record") / "sql" / name).read_text(encoding="utf-8")
