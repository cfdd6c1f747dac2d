"""The schema: plain, strict, and reached from every earlier one without losing a row."""

from __future__ import annotations

import sqlite3
import subprocess
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from shutil import which

import pytest
from sqlite_utils import Database

from dryward.core.commands import Commands
from dryward.core.inputs import NOTHING
from dryward.record import schema
from dryward.record.export import rows
from dryward.record.queries import Record
from dryward.record.review import gather, judge
from dryward.record.schema import NewerSchema, migrate, newest
from tests.record.old_schema import FOLDER, as_sql, from_sql, write_everything
from tests.record.scene import air, began, ended, event, put, stamp, weigh, writer


@pytest.fixture
def db() -> Iterator[Database]:
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as conn:
        yield Database(conn)


def dump(conn: sqlite3.Connection) -> list[str]:
    return sorted(
        sql
        for (sql,) in conn.execute("SELECT sql FROM sqlite_master WHERE sql IS NOT NULL AND name NOT LIKE 'sqlite%'")
    )


@pytest.mark.parametrize("start", range(newest()))
def test_every_earlier_schema_becomes_the_newest(db: Database, start: int) -> None:
    migrate(db, upto=start)
    assert migrate(db) == start
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as fresh:
        migrate(Database(fresh))
        assert dump(db.conn) == dump(fresh)
    assert db.execute("PRAGMA user_version").fetchone() == (newest(),)


def everything(path: Path) -> dict[str, object]:
    """What a record says, asked as the program asks it."""
    with Record(path) as record:
        return {
            "runs": record.runs(),
            "pieces": {r.run_id: record.pieces(r.run_id) for r in record.runs()},
            "steps": {r.run_id: record.steps(r.run_id) for r in record.runs()},
            "plans": record.plans(),
            "notes": record.notes(),
            "exported": {r.run_id: repr(list(rows(record, r.run_id))) for r in record.runs()},
            "inputs": {r.run_id: repr(list(record.inputs(r.run_id))) for r in record.runs()},
            "decisions": {r.run_id: repr(list(record.decisions(r.run_id))) for r in record.runs()},
            "reviews": {r.run_id: repr(judge(gather(record, r.run_id))) for r in record.runs()},
            "reply": record.reply_to("q1"),
            "state": record.latest_checkpoint(),
        }


SINCE = {"scale_calibration": 3}
"""Tables that came later than the first schema."""


@pytest.mark.parametrize("number", range(1, newest() + 1))
def test_a_record_of_every_schema_there_was_is_read_whole_and_written_on(tmp_path: Path, number: int) -> None:
    """The files are texts written by the program of their time. A new schema needs its own before the next is begun."""
    text = FOLDER / f"{number:04d}.sql"
    assert text.exists(), (
        f"write it now, with the program that makes schema {number}: python -m tests.record.old_schema"
    )
    old, new = tmp_path / "old.db", tmp_path / "new.db"
    from_sql(text.read_text(encoding="utf-8"), old)
    write_everything(new)
    with closing(sqlite3.connect(new)) as conn, conn:
        for table in (name for name, since in SINCE.items() if number < since):
            conn.execute(f"DELETE FROM {table}")  # nothing of that kind was written then
    for path in (old, new):
        book = writer(path, first_tick=1000)  # brings it up to date, as the daemon does when it starts
        put(book, 1000, air(1000))
        assert book.close()
    assert everything(old) == everything(new)
    with closing(sqlite3.connect(old)) as conn, closing(sqlite3.connect(new)) as fresh:
        assert conn.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert conn.execute("PRAGMA user_version").fetchone() == (newest(),)
        assert dump(conn) == dump(fresh)


def test_the_old_record_holds_a_row_in_every_table(tmp_path: Path) -> None:
    """Else the test above would say nothing of a table."""
    write_everything(tmp_path / "r.db")
    with closing(sqlite3.connect(tmp_path / "r.db")) as conn:
        tables = [t for (t,) in conn.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        assert [t for t in tables if not conn.execute(f"SELECT count(*) FROM {t}").fetchone()[0]] == []


def test_the_text_of_a_record_makes_it_again(tmp_path: Path) -> None:
    write_everything(tmp_path / "r.db")
    from_sql(as_sql(tmp_path / "r.db"), tmp_path / "again.db")
    assert everything(tmp_path / "again.db") == everything(tmp_path / "r.db")


def test_views_of_an_earlier_version_are_made_anew_although_the_tables_are_the_same(tmp_path: Path) -> None:
    path = tmp_path / "r.sqlite"
    writer(path).close()
    with closing(sqlite3.connect(path, isolation_level=None)) as conn:
        wanted = dump(conn)
        conn.execute("DROP VIEW run_summary")
        conn.execute("CREATE VIEW run_summary AS SELECT run_id FROM run")
        conn.execute("CREATE VIEW given_up AS SELECT 1 AS x")
        assert migrate(Database(conn)) == newest()
        assert dump(conn) == wanted
        before = conn.total_changes, conn.execute("PRAGMA schema_version").fetchone()
        migrate(Database(conn))
        assert (conn.total_changes, conn.execute("PRAGMA schema_version").fetchone()) == before  # nothing to do


def test_a_migration_keeps_the_rows_and_makes_the_views_anew(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A made-up next step stands for those to come."""
    path = tmp_path / "r.sqlite"
    book = writer(path)
    put(book, 0, air(0), marks=[began()])
    put(book, 1, marks=[ended(loin_a=640.0)])
    book.close()
    now = schema.steps()
    monkeypatch.setattr(
        schema, "steps", lambda: (*now, "ALTER TABLE piece ADD COLUMN colour TEXT NOT NULL DEFAULT '';")
    )
    with closing(sqlite3.connect(path, isolation_level=None)) as conn:
        assert migrate(Database(conn)) == newest() - 1
        assert conn.execute("SELECT name, final_g, colour FROM piece ORDER BY 1").fetchall() == [
            ("loin-a", 640.0, ""),
            ("loin-b", None, ""),
        ]
        assert conn.execute("SELECT ended FROM run_summary").fetchall() == [("complete",)]
    with Record(path) as record:
        assert record.run("r1").end_state == "complete"


def test_a_migration_that_fails_leaves_the_file_as_it_was(db: Database, monkeypatch: pytest.MonkeyPatch) -> None:
    migrate(db)
    before = dump(db.conn)
    now = schema.steps()
    monkeypatch.setattr(schema, "steps", lambda: (*now, "CREATE TABLE more (x INTEGER) STRICT; SELECT nonsense;"))
    with pytest.raises(sqlite3.Error):
        migrate(db)
    assert dump(db.conn) == before
    assert not db.conn.in_transaction


def test_a_newer_file_is_refused_with_the_cure(db: Database) -> None:
    migrate(db)
    db.execute(f"PRAGMA user_version = {newest() + 3}")
    with pytest.raises(NewerSchema, match="install the newer version"):
        migrate(db)


def test_every_table_is_strict(db: Database) -> None:
    migrate(db)
    loose = db.execute(
        "SELECT name FROM pragma_table_list WHERE schema = 'main' AND type = 'table' AND strict = 0 AND name NOT LIKE 'sqlite%'"
    ).fetchall()
    assert loose == []


def test_every_column_that_measures_has_its_unit_in_its_name(db: Database) -> None:
    """REAL columns: the unit is the ending, but for ``value`` and the spans, whose unit is the channel's."""
    migrate(db)
    columns = db.execute(
        "SELECT t.name, c.name FROM pragma_table_list AS t, pragma_table_info(t.name) AS c WHERE t.schema = 'main' AND t.type = 'table' AND c.type = 'REAL'"
    ).fetchall()
    free = {
        ("reading", "value"),
        ("figure", "value"),
        ("notice", "value"),
        ("event", "value"),
        ("span", "low"),
        ("span", "high"),
        ("span", "total"),
    }
    assert [
        c for c in columns if tuple(c) not in free and not c[1].endswith(("_s", "_g", "_pct", "_c", "_count"))
    ] == []


@pytest.fixture
def told(tmp_path: Path) -> Iterator[sqlite3.Connection]:
    path = tmp_path / "r.sqlite"
    book = writer(path)
    put(book, 0, air(0, 88.5), marks=[began()])
    put(book, 1, *weigh(1, "loin-b", 503.0))
    put(
        book,
        2,
        air(2, None, fault="crc"),
        commands=None,
        marks=[ended(state="aborted", reason="tripped: over-limit", loin_a=800.0, loin_b=503.0)],
    )
    book.put(
        3,
        stamp(3),
        NOTHING,
        Commands(events=(event("The air was too hot.", severity="trip", advice="Look at the relay."),)),
        None,
    )
    book.close()
    with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as conn:
        yield conn


def test_the_three_questions_of_the_readme_are_answered(told: sqlite3.Connection) -> None:
    text = (Path(schema.__file__).parent / "README.md").read_text(encoding="utf-8")
    questions = [block.split("```")[0] for block in text.split("```sql\n")[1:]]
    assert len(questions) == 3
    ended_how, pieces, hot = (q.replace("'RUN'", "'r1'") for q in questions)
    assert told.execute(ended_how).fetchall() == [
        ("r1", "two-step", "2025-10-09T08:53:20.000Z", 0.0, "aborted", "tripped: over-limit", 0, 2)
    ]
    assert told.execute(pieces).fetchall()[0][:5] == ("loin-a", 1000.0, 650.0, 800.0, 20.0)
    first, second = [q for q in hot.split(";") if q.strip()]
    assert told.execute(first).fetchall() == [("2025-10-09T08:53:20.000Z", "air", 88.5)]
    assert told.execute(second).fetchall() == [
        ("2025-10-09T08:53:23.000Z", "trip", "The air was too hot. Look at the relay.")
    ]


def test_the_wide_view_has_a_column_a_role_and_the_wall_time(told: sqlite3.Connection) -> None:
    assert told.execute("SELECT tick, utc, air_c, rh_pct FROM readings_wide").fetchall() == [
        (0, "2025-10-09T08:53:20.000Z", 88.5, None), (2, "2025-10-09T08:53:22.000Z", None, None),
    ]  # fmt: skip
    assert told.execute("SELECT value, unit, fault FROM reading_text WHERE tick = 2").fetchall() == [
        (None, "degC", "crc")
    ]


@pytest.mark.skipif(which("sqlite3") is None, reason="the sqlite3 command is not installed")
def test_the_sqlite3_command_reads_the_file_while_the_writer_has_it_open(tmp_path: Path) -> None:
    path = tmp_path / "r.sqlite"
    book = writer(path, commit_s=0.0)
    put(book, 0, air(0))
    answer = subprocess.run(
        ["sqlite3", "-readonly", str(path), "SELECT air_c FROM readings_wide; PRAGMA integrity_check;"],
        capture_output=True,
        text=True,
        check=True,
    )
    put(book, 1, air(1))
    assert book.health().ok
    book.close()
    assert answer.stdout.split() == ["50.25", "ok"]


def test_a_migration_over_several_steps_is_one_transaction(db: Database, monkeypatch: pytest.MonkeyPatch) -> None:
    """A power cut between two steps would leave a file without views."""
    migrate(db, upto=1)
    before = dump(db.conn)
    now = schema.steps()
    monkeypatch.setattr(schema, "steps", lambda: (*now, "SELECT nonsense;"))
    with pytest.raises(sqlite3.Error):
        migrate(db)
    assert dump(db.conn) == before
    assert db.execute("PRAGMA user_version").fetchone() == (1,)
