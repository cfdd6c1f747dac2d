"""A review's facts from the file: exact minutes without reading every reading, also when the readings are gone."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from dataclasses import replace
from pathlib import Path

from dryward.core.chamber import Sensor
from dryward.core.commands import Commands
from dryward.core.inputs import Inputs, Reading
from dryward.record.gather import gather
from dryward.record.moments import RunBegan, StepBegan
from dryward.record.queries import Record
from dryward.record.review import judge
from dryward.record.writer import RecordWriter
from tests.record.scene import CHAMBER, PIECES, PROGRAM, ToyState, ended, session, stamp, weigh


def play(path: Path, values: list[float], *, offset: float = 0.0) -> None:
    """A run of one reading a tick; the second step begins half way."""
    chamber = replace(
        CHAMBER, sensors=(Sensor(name="air", role="control-air", device="d1", offset=offset), *CHAMBER.sensors[1:])
    )
    book = RecordWriter(path, replace(session(), chamber=chamber), threaded=False, commit_s=1e9)
    for tick, value in enumerate(values):
        marks = {
            0: (RunBegan(run_id="r1", program=PROGRAM, pieces=PIECES),),
            len(values) // 2: (StepBegan(run_id="r1", step_no=1, name="dry", why="1 h in the band"),),
            len(values) - 1: (ended(loin_a=650.0, loin_b=600.0),),
        }.get(tick, ())
        book.put(
            tick,
            stamp(tick),
            Inputs(readings=(Reading("air", value, tick - 0.5), Reading("damp", 30.0, tick - 0.5))),
            Commands(),
            ToyState(tick),
            marks=marks,
        )
    assert book.close()


def test_minutes_are_those_of_the_single_readings(tmp_path: Path) -> None:
    """Warm step 50 +- 3: 400 s in, 100 s above, the rest in; dry step 60 +- 3: 200 s until reached, 37 s below later."""
    values = [50.0] * 400 + [54.0] * 100 + [50.0] * 700 + [50.0] * 200 + [60.0] * 500 + [56.0] * 37 + [60.0] * 463
    play(tmp_path / "r.sqlite", values)
    with Record(tmp_path / "r.sqlite") as record:
        facts = gather(record, "r1")
        warm, dry = judge(facts).steps
        assert len(facts.samples["air"]) < len(values)
    assert (round(warm.above_min * 60), round(warm.below_min * 60), round(warm.reached_min or 0)) == (100, 0, 0)
    assert (round(dry.below_min * 60), round(dry.above_min * 60), round((dry.reached_min or 0) * 60)) == (37, 0, 200)


def test_a_lone_odd_reading_is_no_extreme_but_two_are(tmp_path: Path) -> None:
    values = [50.0] * 1000
    values[100] = 85.0
    values[700], values[701] = 66.0, 67.0
    play(tmp_path / "r.sqlite", values, offset=-1.5)
    with Record(tmp_path / "r.sqlite") as record:
        low, high = gather(record, "r1").extremes["air"]
    assert (low.value, high.value, high.tick in (700, 701)) == (48.5, 64.5, True)


def test_when_the_readings_are_thinned_out_the_spans_still_give_a_review(tmp_path: Path) -> None:
    play(tmp_path / "r.sqlite", [50.0] * 600 + [50.0] * 600)
    with closing(sqlite3.connect(tmp_path / "r.sqlite")) as conn:
        conn.execute("DELETE FROM reading")
        conn.commit()
    with Record(tmp_path / "r.sqlite") as record:
        review = judge(gather(record, "r1"))
    assert review.extremes[0].high == 50.0
    assert [round(s.inside_min) for s in review.steps] == [10, 0]


def test_the_hottest_moment_outlives_the_readings_it_is_known_from(tmp_path: Path) -> None:
    """A run that was too hot for two seconds is still too hot when its readings are gone: spans keep low and high for ever."""
    values = [50.0] * 1000
    values[700], values[701], values[820] = 91.0, 91.0, 20.0
    play(tmp_path / "r.sqlite", values)
    with closing(sqlite3.connect(tmp_path / "r.sqlite")) as conn:
        conn.execute("DELETE FROM reading")
        conn.commit()
    with Record(tmp_path / "r.sqlite") as record:
        low, high = gather(record, "r1").extremes["air"]
    assert (low.value, high.value, high.tick) == (20.0, 91.0, 600)


def test_while_a_run_lasts_a_piece_has_the_newest_weight_of_its_scale_or_of_a_hand(tmp_path: Path) -> None:
    book = RecordWriter(tmp_path / "r.sqlite", session(), threaded=False, commit_s=1e9)
    for tick in range(100):
        inputs, commands = (
            weigh(tick, "loin-a", 903.0)
            if tick == 40
            else weigh(tick, "loin-b", 700.0)
            if tick == 90
            else (Inputs(), Commands())
        )
        marks = (RunBegan(run_id="r1", program=PROGRAM, pieces=PIECES),) if tick == 0 else ()
        figures = {"weight_g:loin-a": 1000.0 - tick} if tick % 20 == 0 else {}
        book.put(tick, stamp(tick), inputs, commands, ToyState(tick), figures=figures, marks=marks)
    assert book.close()
    with Record(tmp_path / "r.sqlite") as record:
        review = judge(gather(record, "r1"))
    assert [(p.final_g, p.outcome) for p in review.pieces] == [(920.0, "drying"), (700.0, "drying")]
