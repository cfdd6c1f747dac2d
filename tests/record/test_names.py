"""Numbers of channels and remarks: given once, found again, forgotten when their transaction failed."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing

import pytest
from sqlite_utils import Database

from dryward.record.names import Names, enter_channels
from dryward.record.schema import migrate
from tests.record.scene import CHAMBER


@pytest.fixture
def conn() -> Iterator[sqlite3.Connection]:
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as opened:
        migrate(Database(opened))
        yield opened


def test_channels_have_the_unit_of_their_role(conn: sqlite3.Connection) -> None:
    enter_channels(conn, CHAMBER)
    enter_channels(conn, CHAMBER)
    assert conn.execute("SELECT name, kind, unit FROM channel ORDER BY channel_id").fetchall() == [
        ("air", "sensor", "degC"), ("top", "sensor", "degC"), ("damp", "sensor", "%RH"), ("hook", "scale", "g"),
    ]  # fmt: skip


def test_a_name_keeps_its_number_over_a_restart_and_a_figure_may_be_called_like_a_sensor(
    conn: sqlite3.Connection,
) -> None:
    enter_channels(conn, CHAMBER)
    names, later = Names(), Names()
    air, figure, unknown = names.channel(conn, "air"), names.figure(conn, "air"), names.channel(conn, "new")
    assert len({air, figure, unknown}) == 3
    assert (later.channel(conn, "air"), later.figure(conn, "air"), later.channel(conn, "new")) == (air, figure, unknown)


def test_a_number_from_a_transaction_that_failed_is_not_used_again(conn: sqlite3.Connection) -> None:
    names = Names()
    conn.execute("BEGIN")
    names.channel(conn, "air")
    names.remark(conn, None, "crc")
    conn.execute("ROLLBACK")
    names.forget()
    number, (_, note) = names.channel(conn, "air"), names.remark(conn, None, "crc")
    assert conn.execute("SELECT count(*) FROM channel WHERE channel_id = ?", (number,)).fetchone() == (1,)
    assert conn.execute("SELECT fault FROM reading_note WHERE note_id = ?", (note,)).fetchone() == ("crc",)


def test_an_ordinary_value_needs_no_remark(conn: sqlite3.Connection) -> None:
    names = Names()
    assert names.remark(conn, 0.0, "") == (0.0, None)
    assert names.remark(conn, None, "") == (None, None)
    assert names.remark(conn, -0.0, "") == (0.0, 1)
    assert conn.execute("SELECT count(*) FROM reading_note").fetchone() == (1,)
