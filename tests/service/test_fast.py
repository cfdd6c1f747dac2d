"""A whole run in simulated time: the main job, from loading to the last piece."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from dryward.record.queries import Record
from dryward.service.fast import RunRefused, run_fast, with_period
from tests.service.conftest import WholeRun


def test_each_piece_is_announced_at_its_own_target(whole_run: WholeRun) -> None:
    state = whole_run.ended.state
    assert state.run.phase == "complete"
    assert whole_run.told.count("piece-done") == len(whole_run.pieces)
    for piece in state.pieces:
        # 35 % of 1000 g is done at 650 g: arithmetic of the trade, common practice, no source.
        assert piece.piece.target_g == pytest.approx(piece.piece.green_g * (1 - piece.piece.target_loss_pct / 100))
        assert piece.final_g == pytest.approx(piece.piece.target_g, abs=1.0)
    finishes = [p.crossed_s for p in state.pieces]
    assert len(set(finishes)) == len(finishes)  # pieces of different weight are done at different times


def test_the_steps_change_by_themselves_and_the_heat_ends(whole_run: WholeRun) -> None:
    assert whole_run.told.count("step-begun") == len(whole_run.program.steps) - 1
    assert "heater" not in whole_run.ended.state.on


def test_the_record_holds_every_reading_that_the_engine_saw(whole_run: WholeRun) -> None:
    with Record(whole_run.record) as record:
        kept = [r for _, inputs in record.inputs("demo-1") for r in inputs.readings]
    assert tuple(kept) == whole_run.readings


def test_a_batch_dries_as_long_as_people_say(whole_run: WholeRun) -> None:
    """Common practice, no source: about 78 h for 35 % of four pieces of about 750 g, 80 then 70 degC; +-30 %."""
    hours = whole_run.ended.state.run.ended_s / 3600.0 if whole_run.ended.state.run.ended_s else 0.0
    assert 78.0 * 0.7 <= hours <= 78.0 * 1.3


def test_each_simulated_day_it_is_foretold_when_the_pieces_will_be_done(whole_run: WholeRun) -> None:
    state = whole_run.ended.state
    assert [round((o.made_s - state.run.started_s) / 3600.0) for o in whole_run.foretold] == [24, 48, 72]
    finishes = {p.piece.name: p.crossed_s for p in state.pieces}
    for outlook in whole_run.foretold:
        for ahead in outlook.pieces:
            crossed_s = finishes[ahead.piece]
            assert crossed_s is not None
            assert ahead.lo_s <= crossed_s <= ahead.hi_s
    with Record(whole_run.record) as record:
        kept = record.figures("demo-1", "finish_s:loin-1")
    wanted = [ahead.finish_s for o in whole_run.foretold if (ahead := o.of("loin-1")) is not None]
    assert [f.value for f in kept] == [round(w) for w in wanted if w is not None]


def test_a_refused_start_says_why(whole_run: WholeRun) -> None:
    twice = (whole_run.pieces[0], whole_run.pieces[0])
    with pytest.raises(RunRefused, match="Two pieces are called"):
        run_fast(whole_run.settings, whole_run.program, twice, run_id="x", period_s=5.0, record=None, who="t")


def test_a_simulated_heater_cycle_is_a_whole_number_of_ticks(whole_run: WholeRun) -> None:
    chamber = with_period(whole_run.settings.chamber, 5.0)
    assert chamber.period_s == 5.0
    assert chamber.control.cycle_s >= 8 * chamber.period_s


def test_the_run_ends_with_the_recording(whole_run: WholeRun, tmp_path: Path) -> None:
    """A run whose source has nothing more to give does not turn for ever."""
    csv = tmp_path / "room.csv"
    csv.write_text("t_s,temperature\n" + "".join(f"{60 * i},4.0\n" for i in range(30)))
    from dryward.settings import read_settings

    (tmp_path / "chamber.toml").write_text(
        '[chamber]\nname = "fridge"\n[devices.log]\nkind = "recorded"\nfile = "room.csv"\n'
        '[sensors.air]\nrole = "control-air"\ndevice = "log"\nfresh_s = 120\n'
        '[record]\npath = "r.db"\n[service]\nsocket = "s"\n'
    )
    settings = read_settings(tmp_path / "chamber.toml")
    watch_only = replace(
        whole_run.program,
        steps=(replace(whole_run.program.steps[0], air_c=None, watch_only=True, ramp_k_per_h=None),),
    )
    pieces = tuple(replace(p, scale=None) for p in whole_run.pieces)
    ended = run_fast(settings, watch_only, pieces, run_id="x", period_s=5.0, record=None, who="t")
    assert ended.state.run.phase == "running"
    assert ended.ticks == pytest.approx(29 * 60 / 5, abs=3)
