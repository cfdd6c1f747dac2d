"""Steps, holds, trips and the end stand where they happened."""

from __future__ import annotations

from pathlib import Path

import pytest

from dryward.record.gather import gather
from dryward.record.page_curves import grid_of
from dryward.record.page_marks import Mark, marks, phase_told
from dryward.record.queries import Record
from tests.record.batch import write_batch
from tests.record.scene import event


def marked(path: Path, end: str) -> list[Mark]:
    write_batch(path, end=end)
    with Record(path) as record:
        facts = gather(record, "r1")
        return marks(facts, grid_of(facts.run))


def test_a_hold_lasts_from_held_to_running(tmp_path: Path) -> None:
    found = marked(tmp_path / "r.db", "complete")
    (hold,) = [m for m in found if m.kind == "hold"]
    assert (hold.at, hold.to) == (pytest.approx(1 / 3, abs=0.001), pytest.approx(3000 / 7200, abs=0.001))
    assert [m.text for m in found if m.kind == "step"] == ["warm", "dry"]
    (trip,) = [m for m in found if m.kind == "trip"]
    assert (trip.at, trip.row) == (pytest.approx(1 / 3, abs=0.001), 1)
    assert not [m for m in found if m.kind == "end"]


@pytest.mark.parametrize(("end", "word"), [("aborted", "ABORTED"), ("stopped", "stopped"), ("", "no end yet")])
def test_a_run_that_did_not_finish_is_marked_at_its_end(tmp_path: Path, end: str, word: str) -> None:
    assert [m.text for m in marked(tmp_path / "r.db", end) if m.kind == "end"] == [word]


def test_events_tell_the_phase() -> None:
    assert phase_told(event("The run went from idle to running.", kind="phase")) == "running"
    assert phase_told(event("It is held.", kind="run-held")) == "held"
    assert phase_told(event("to be or not to be", kind="trip")) == ""
