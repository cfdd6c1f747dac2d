"""A day in a few lines: progress, time out of band, and the one thing to do next."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from dryward.record.digest import Day, PieceDay, as_text, day_of, foreseen, next_action
from dryward.record.moments import PieceOut, PieceReached
from dryward.record.queries import Record
from tests.record.batch import write_batch
from tests.record.scene import began, put, writer

PIECE = PieceDay(name="loin-a", loss_pct=30.0, day_pct=6.0, target_loss_pct=35.0, done=False)
DAY = Day(
    chamber="shed", run_id="r1", verdict="open", hours=60.0, step="dry", held=False, inside_min=900.0, below_min=0.0, above_min=0.0, energy_kwh=9.5, pieces=(PIECE,), told=(),
)  # fmt: skip


def test_the_day_is_that_of_the_record(tmp_path: Path) -> None:
    write_batch(tmp_path / "r.db", end="")
    with Record(tmp_path / "r.db") as record:
        day = day_of(record, "r1")
    assert (day.verdict, day.step, day.held, day.hours) == ("open", "dry", False, pytest.approx(2.0))
    assert day.energy_kwh == pytest.approx(1.0)
    assert day.pieces[0].loss_pct == pytest.approx(36.0)
    assert [t[0] for t in day.told] == ["trip"]
    assert day.inside_min == pytest.approx(120.0, abs=1.0)
    assert (day.pieces[0].day_pct, day.pieces[0].over_h) == (pytest.approx(36.0), pytest.approx(2.0))


def test_a_piece_that_was_taken_out_before_its_target_is_not_called_done(tmp_path: Path) -> None:
    book = writer(tmp_path / "r.db")
    put(book, 0, marks=(began(),))
    put(book, 3600, marks=(PieceOut(run_id="r1", piece="loin-a", weight_g=900.0),))
    put(book, 3700, marks=(PieceReached(run_id="r1", piece="loin-b", weight_g=500.0, crossed_s=3700.0),))
    assert book.close()
    with Record(tmp_path / "r.db") as record:
        text = as_text(day_of(record, "r1"))
    assert "loin-a: 10.0 of 35 % lost, taken out early." in text
    assert "loin-b: 38.5 of 38 % lost, done." in text


def test_a_pace_gives_a_time_and_a_stalled_piece_none() -> None:
    assert PIECE.hours_left == pytest.approx(20.0)  # 5 % at 6 % a day
    assert replace(PIECE, day_pct=0.1).hours_left is None
    assert "about 20 h to go" in as_text(DAY)
    assert "it stayed there" in as_text(DAY)


def test_the_pace_of_a_young_run_is_that_of_its_hours() -> None:
    """6 % in 6 h is 24 % a day: 5 % more take 5 h."""
    young = replace(PIECE, over_h=6.0)
    assert young.hours_left == pytest.approx(5.0)
    assert "6.0 in the 6 h since the start" in as_text(replace(DAY, hours=6.0, pieces=(young,)))


def test_what_the_daemon_foretells_takes_the_place_of_the_rough_figure() -> None:
    status = {"name": "loin-a", "finish_utc": "2026-03-01T10:00:00Z", "finish_lo_utc": "2026-03-01T08:00:00Z", "finish_hi_utc": "2026-03-01T13:30:00Z"}  # fmt: skip
    text = as_text(foreseen(DAY, [status], "Come back on Sun 1 Mar 08:00."))
    assert "expected done Sun 1 Mar 10:00 (Sun 1 Mar 8:00 to Sun 1 Mar 13:30)" in text
    assert "to go" not in text
    assert text.endswith("Next: come back on Sun 1 Mar 08:00.")
    held = foreseen(replace(DAY, held=True), [status], "Come back.")
    assert "expected" not in as_text(held)
    assert "resume" in next_action(held)
    assert foreseen(DAY, [{"name": "loin-a", "finish_utc": None}]) == DAY


def test_a_chamber_that_never_reached_its_band_is_not_said_to_be_in_it() -> None:
    text = as_text(replace(DAY, inside_min=0.0))
    assert "has reached no band" in text
    assert "stayed" not in text


def test_a_large_batch_fits_into_a_message() -> None:
    pieces = tuple(replace(PIECE, name=f"piece-number-{n}-of-the-batch") for n in range(24))
    text = as_text(replace(DAY, pieces=pieces))
    assert len(text) < 1500
    assert "14 more pieces" in text


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
