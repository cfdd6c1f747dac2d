"""The night's care: copied off the card, and worries reach people."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from dryward.core.commands import Event
from dryward.record.keeping import backups
from dryward.record.writer import RecordWriter
from dryward.service.care import care
from dryward.settings import RecordSettings
from tests.record.scene import UTC_S, air, began, put, writer


@pytest.fixture
def book(tmp_path: Path) -> Iterator[RecordWriter]:
    made = writer(tmp_path / "r.db")
    put(made, 0, air(0), marks=[began()])
    made.flush()
    yield made
    made.close()


def test_the_backup_lies_beside_the_record_and_on_the_other_disk_and_neither_grows(
    tmp_path: Path, book: RecordWriter
) -> None:
    stick = tmp_path / "stick"
    stick.mkdir()
    told: list[Event] = []
    for night in range(9):
        care(tmp_path / "r.db", book, RecordSettings(copy_to=str(stick)), told.append, at_utc_s=UTC_S + night * 86400.0)
    assert told == []
    for folder in (tmp_path / "backup", stick):
        assert len(backups(folder, tmp_path / "r.db")) == 7


def test_a_disk_that_is_not_there_is_told_to_people(tmp_path: Path, book: RecordWriter) -> None:
    told: list[Event] = []
    settings = RecordSettings(copy_to=str(tmp_path / "unplugged"))
    care(tmp_path / "r.db", book, settings, told.append, at_utc_s=UTC_S)
    care(tmp_path / "r.db", book, settings, None, at_utc_s=UTC_S + 86400.0)
    (event,) = told
    assert event.severity == "warning"
    assert "plugged in" in event.text
    assert len(backups(tmp_path / "backup", tmp_path / "r.db")) == 2  # the one on the card is made all the same
