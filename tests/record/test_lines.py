"""The answers' fields are the columns they are read from."""

from __future__ import annotations

import sqlite3
from contextlib import closing

import pytest
from sqlite_utils import Database

from dryward.record.lines import NoteLine, PieceLine, StepLine
from dryward.record.schema import migrate


@pytest.mark.parametrize(("line", "table"), [(PieceLine, "piece"), (StepLine, "run_step"), (NoteLine, "note")])
def test_every_field_is_a_column_of_its_table(line: type, table: str) -> None:
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as conn:
        migrate(Database(conn))
        columns = [name for (name,) in conn.execute("SELECT name FROM pragma_table_info(?)", (table,))]
    fields: tuple[str, ...] = line._fields  # type: ignore[attr-defined]
    assert [c for c in columns if c in fields] == list(fields)
