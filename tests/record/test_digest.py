"""A day in a few lines: progress, time out of band, and the one thing to do next."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from dryward.record.digest import Day, PieceDay, as_text, day_of, next_action
from dryward.record.queries import Record
from tests.record.batch import write_batch

PIECE = PieceDay(name="loin-a", loss_pct=30.0, day_pct=6.0, target_loss_pct=35.0, done=False)
DAY = Day(
    chamber="shed", run_id="r1", verdict="open", hours=60.0, step="dry", held=False, below_min=0.0, above_min=0.0, energy_kwh=9.5, pieces=(PIECE,), told=(),
)  # fmt: skip


def test_the_day_is_that_of_the_record(tmp_path: Path) -> None:
    write_batch(tmp_path / "r.db", end="")
    with Record(tmp_path / "r.db") as record:
        day = day_of(record, "r1")
    assert (day.verdict, day.step, day.held, day.hours) == ("open", "dry", False, pytest.approx(2.0))
    assert day.energy_kwh == pytest.approx(1.0)
    assert day.pieces[0].loss_pct == pytest.approx(36.0)
    assert [t[0] for t in day.told] == ["trip"]


def test_a_pace_gives_a_time_and_a_stalled_piece_none() -> None:
    assert PIECE.hours_left == pytest.approx(20.0)  # 5 % at 6 % a day
    assert replace(PIECE, day_pct=0.1).hours_left is None
    assert "about 20 h to go" in as_text(DAY)
    assert "in its band all day" in as_text(DAY)


@pytest.mark.parametrize(
    ("day", "word"),
    [
        (DAY, "be there for loin-a"),
        (replace(DAY, held=True), "'dryward resume'"),
        (replace(DAY, told=(("trip", "Too hot.", "Pull the plug."),)), "Pull the plug."),
        (replace(DAY, verdict="aborted", step=""), "find the cause"),
        (replace(DAY, verdict="complete", step=""), "cool them"),
        (replace(DAY, pieces=(replace(PIECE, loss_pct=None, day_pct=None),)), "weigh loin-a"),
        (replace(DAY, pieces=(replace(PIECE, loss_pct=10.0),)), "nothing"),
    ],
)
def test_the_next_action_follows_what_is_gravest(day: Day, word: str) -> None:
    assert word in next_action(day)
    assert as_text(day).endswith(next_action(day))


def test_minutes_out_of_band_are_told() -> None:
    assert "12 min below, 3 min above" in as_text(replace(DAY, below_min=12.0, above_min=3.0))
