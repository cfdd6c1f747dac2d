"""Replay is a property: the recorded inputs, stepped again, give the recorded decisions."""

from __future__ import annotations

import sqlite3
from dataclasses import replace
from pathlib import Path

import pytest

from dryward.record.lines import NoSuchRun
from dryward.record.queries import Record
from dryward.service.replay import replay
from tests.service.conftest import WholeRun


def test_every_decision_of_a_whole_run_is_the_same_again(whole_run: WholeRun) -> None:
    with Record(whole_run.record) as record:
        found = replay(record, "demo-1")
    assert found.different == 0
    assert found.ticks >= whole_run.ended.ticks - 1
    assert found.decisions >= len(whole_run.pieces)
    assert "every decision the same" in found.text()


def test_a_changed_reading_is_found(whole_run: WholeRun, tmp_path: Path) -> None:
    """The check can fail: one air reading made hot in the record makes a decision differ."""
    changed = tmp_path / "changed.db"
    with sqlite3.connect(whole_run.record) as source, sqlite3.connect(changed) as copy:
        source.backup(copy)
        copy.execute(
            "UPDATE reading SET value = 20.0 WHERE reading_id / 4096 BETWEEN 20000 AND 20400 "
            "AND channel_id = (SELECT channel_id FROM channel WHERE role = 'control-air')"
        )
        copy.commit()
    copy.close()
    with Record(changed) as record:
        found = replay(record, "demo-1")
    assert found.different > 0
    assert found.differences
    assert "decide otherwise" in found.text()
    assert "Recorded by" not in found.text()
    assert "Recorded by dryward 0.0.1, stepped by" in replace(found, recorded_by=("0.0.1",)).text()


def test_a_run_whose_readings_were_thinned_out_is_not_called_different(whole_run: WholeRun, tmp_path: Path) -> None:
    thin = tmp_path / "thin.db"
    with sqlite3.connect(whole_run.record) as source, sqlite3.connect(thin) as copy:
        source.backup(copy)
        copy.execute("DELETE FROM reading WHERE reading_id / 4096 < 5000")
        copy.execute("INSERT INTO lost (from_tick, to_tick, readings, why) VALUES (0, 4999, 0, 'thinned')")
        copy.commit()
    copy.close()
    with Record(thin) as record, pytest.raises(LookupError, match="thinned out"):
        replay(record, "demo-1")


def test_an_unknown_run_is_named(whole_run: WholeRun) -> None:
    with Record(whole_run.record) as record, pytest.raises(NoSuchRun, match="nope"):
        replay(record, "nope")
