"""Forecasts from the record: of a whole simulated run, of pieces weighed by hand, of programs that end too early."""

from __future__ import annotations

import pickle
import subprocess
from dataclasses import replace
from io import BytesIO
from itertools import pairwise
from math import inf
from pathlib import Path
from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dryward.core.chamber import Sensor
from dryward.core.program import Ends, Piece, Program, Step
from dryward.core.progress import Run
from dryward.core.weighing import PieceState
from dryward.record.queries import Record
from dryward.science.forecast import PieceLog
from dryward.science.pace import AirAt
from dryward.service import foretell
from dryward.service.foretell import Outlook, Question, answer, believable, channel, foretold, learn_from, weighings
from dryward.service.outlook import start_child
from tests.service.conftest import WholeRun

H = 3600.0


def asked_at(run: WholeRun, hours: float) -> Question:
    """The question the service would have asked so many hours after the start."""
    state, chamber = run.ended.state, run.ended.layout.chamber
    first_h = run.program.steps[0].ends.dwell_h or 0.0
    step = int(hours > first_h + 0.5)
    in_step_s = (hours - step * (first_h + 0.4)) * H
    then = replace(state.run, phase="running", step_index=step, step_s=in_step_s, dwell_s=in_step_s, ended_s=None)
    return Question(
        record=run.record,
        run=then,
        pieces=tuple(PieceState(p.piece) for p in state.pieces),
        period_s=chamber.period_s,
        now=state.run.started_s + hours * H,
        air=channel(chamber, "control-air"),
        humidity=channel(chamber, "humidity"),
    )


@pytest.fixture(scope="module")
def late(whole_run: WholeRun) -> Outlook:
    return answer(asked_at(whole_run, 48.0))


def test_each_piece_of_a_run_was_foretold_rightly_the_day_before(whole_run: WholeRun, late: Outlook) -> None:
    now = late.made_s
    for piece in whole_run.ended.state.pieces:
        ahead = late.of(piece.piece.name)
        assert ahead is not None
        assert ahead.finish_s is not None
        assert piece.crossed_s is not None
        assert ahead.lo_s <= piece.crossed_s <= ahead.hi_s
        assert abs(ahead.finish_s - piece.crossed_s) <= 0.2 * (piece.crossed_s - now)
    assert late.curves == ()


def test_nothing_is_foretold_from_what_came_later(whole_run: WholeRun) -> None:
    early = answer(asked_at(whole_run, 12.0))
    assert all(p.last_s <= early.made_s for p in early.pieces)
    wide = [p.hi_s - p.lo_s for p in early.pieces]
    assert min(wide) > 12 * H


def test_a_piece_that_is_done_is_not_foretold(whole_run: WholeRun) -> None:
    asked = asked_at(whole_run, 48.0)
    done = replace(asked.pieces[0], status="done")
    found = answer(replace(asked, pieces=(done, *asked.pieces[1:])))
    assert found.of(done.piece.name) is None
    assert len(found.pieces) == len(asked.pieces) - 1


def test_the_process_says_what_the_function_says(whole_run: WholeRun, late: Outlook) -> None:
    child = start_child()
    try:
        said, complaint = child.communicate(pickle.dumps(asked_at(whole_run, 48.0)), timeout=120.0)
    finally:
        child.kill()
        child.wait()
    assert child.returncode == 0, complaint
    assert pickle.loads(said) == late


def test_a_record_that_is_not_there_is_an_error_of_the_process_alone(whole_run: WholeRun, tmp_path: Path) -> None:
    child = start_child()
    asked = replace(asked_at(whole_run, 48.0), record=tmp_path / "none.db")
    try:
        said, complaint = child.communicate(pickle.dumps(asked), timeout=60.0)
    except subprocess.TimeoutExpired:
        child.kill()
        raise
    assert (said, child.returncode) == (b"", 1)
    assert b"there is no record at" in complaint


def test_a_finished_run_teaches_the_next_one(whole_run: WholeRun) -> None:
    with Record(whole_run.record) as record:
        past = learn_from(record, "another", [800.0])
        assert past is not None
        assert past.runs == len(whole_run.pieces)
        assert learn_from(record, "demo-1", [800.0]) is None  # a run learns nothing from itself


def test_what_was_learnt_narrows_an_early_forecast_and_is_no_longer_used_late(
    whole_run: WholeRun, late: Outlook
) -> None:
    with Record(whole_run.record) as record:
        past = learn_from(record, "another", [770.0])

    def widths(hours: float, **more: object) -> tuple[float, Outlook]:
        found = answer(replace(asked_at(whole_run, hours), learnt=True, **more))  # type: ignore[arg-type]
        return sum(p.hi_s - p.lo_s for p in found.pieces), found

    alone, taught = widths(7.0), widths(7.0, past=past)
    assert taught[0] < alone[0]
    assert taught[1].past == past  # kept for the next question
    for piece in whole_run.ended.state.pieces:
        ahead = taught[1].of(piece.piece.name)
        assert ahead is not None
        assert piece.crossed_s is not None
        assert ahead.lo_s <= piece.crossed_s <= ahead.hi_s
    assert widths(48.0, past=past)[1].pieces == late.pieces


def test_too_early_nothing_is_foretold(whole_run: WholeRun) -> None:
    found = answer(asked_at(whole_run, 2.0))
    assert {p.finish_s for p in found.pieces} == {None}
    assert all(p.why.startswith("too early to tell, with ") for p in found.pieces)


# ---- programs that end too early


def by_hand(*steps: Step, cap_h: float = 100.0, target_pct: float = 35.0) -> Outlook:
    """A piece weighed by hand for 12 h, that would need about two days."""
    piece = Piece(name="a", green_g=1000.0, target_loss_pct=target_pct)
    run = Run(phase="running", run_id="r", program=Program(name="p", cap_h=cap_h, steps=steps), dwell_s=12 * H)
    rows = [(0.0, 1000.0), (4 * H, 920.0), (8 * H, 874.0), (12 * H, 838.0)]
    airs = [AirAt(t_s=0.0, air_c=70.0), AirAt(t_s=11.9 * H, air_c=70.0)]
    log = PieceLog(piece="a", green_g=1000.0, target_g=piece.target_g, weighings=rows, airs=airs)
    asked = Question(record=Path(), run=run, pieces=(PieceState(piece),), period_s=1.0, now=12 * H)
    return foretold(asked, {"a": log}, airs, None)


def test_a_program_that_lasts_long_enough_is_no_trouble() -> None:
    found = by_hand(Step(name="s", air_c=70.0, ends=Ends(own_target=True)))
    assert found.curves == ()
    assert found.pieces[0].finish_s is not None
    assert 20 * H < found.pieces[0].finish_s < 90 * H


def test_a_program_that_is_over_before_is_told() -> None:
    found = by_hand(Step(name="s", air_c=70.0, ends=Ends(dwell_h=14.0)))
    assert found.over_s == 14 * H
    assert found.pieces[0].finish_s == inf
    assert found.curves == (("out-of-reach", "a"),)


def test_a_step_that_ends_by_loss_changes_the_air_when_that_is_reached() -> None:
    warm = Step(name="w", air_c=70.0, ends=Ends(loss_pct=20.0))
    same = by_hand(warm, Step(name="s", air_c=70.0, ends=Ends(own_target=True)))
    cooler = by_hand(warm, Step(name="s", air_c=45.0, ends=Ends(own_target=True)))
    cooler_at_once = by_hand(Step(name="s", air_c=45.0, ends=Ends(own_target=True)))
    times = [o.pieces[0].finish_s or 0.0 for o in (same, cooler, cooler_at_once)]
    assert times[0] < times[1] < times[2]


def test_a_weight_that_cannot_be_is_named_and_the_others_are_foretold_all_the_same() -> None:
    pieces = (Piece(name="a", green_g=1000.0), Piece(name="b", green_g=1000.0))
    rows = [(0.0, 1000.0), (4 * H, 920.0), (8 * H, 874.0)]
    logs = {
        "a": PieceLog(piece="a", green_g=1000.0, target_g=650.0, weighings=rows),
        "b": PieceLog(piece="b", green_g=1000.0, target_g=650.0, weighings=[*rows, (9 * H, 990.0)]),
    }
    program = Program(name="p", cap_h=90.0, steps=(Step(name="s", air_c=70.0, ends=Ends(own_target=True)),))
    run = Run(phase="running", run_id="r", program=program)
    asked = Question(
        record=Path(), run=run, pieces=tuple(PieceState(p) for p in pieces), period_s=1.0, now=9 * H
    )  # fmt: skip
    a, b = foretold(asked, logs, (), None).pieces
    assert a.finish_s is not None
    assert b.finish_s is None
    assert "does not gain so much" in b.why


# ---- what is read


PAIRS: list[tuple[list[tuple[float, float]], list[tuple[float, float]], list[tuple[float, float]]]] = [
    ([], [], [(100.0, 1000.0)]),  # the green weight at the start
    ([(5000.0, 900.0)], [(5000.0, 900.0), (5060.0, 900.0)], [(100.0, 1000.0), (5000.0, 900.0)]),
    ([], [(130.0, 990.0), (190.0, 990.0), (250.0, 989.0)], [(130.0, 990.0), (250.0, 989.0)]),
    ([(200.0, 985.0)], [(130.0, 990.0), (250.0, 989.0)], [(130.0, 990.0), (200.0, 985.0), (250.0, 989.0)]),
]


@pytest.mark.parametrize(("typed", "shown", "wanted"), PAIRS)
def test_a_weight_counts_once_and_the_green_weight_stands_for_a_missing_first_one(
    typed: list[tuple[float, float]], shown: list[tuple[float, float]], wanted: list[tuple[float, float]]
) -> None:
    assert weighings(typed, shown, 1000.0, 100.0) == wanted


@pytest.mark.parametrize(
    ("grams", "kept"),
    [
        ([1000, 900, 850, 820], [1000, 900, 850, 820]),
        ([1000, 900, 902, 850], [1000, 900, 902, 850]),  # another scale
        ([1000, 900, 480, 840, 820], [1000, 900, 840, 820]),  # another piece
        ([1000, 900, 990, 840, 820], [1000, 990, 840, 820]),  # either may be wrong: the newer counts
        ([1000, 450, 540], [1000, 540]),  # weighed again: the newest counts
        ([], []),
    ],
)
def test_a_weighing_that_contradicts_the_others_is_left_out(grams: list[int], kept: list[int]) -> None:
    rows = [(100.0 * k, float(g)) for k, g in enumerate(grams)]
    assert [g for _, g in believable(rows, 20.0)] == kept


@given(st.lists(st.tuples(st.floats(0.0, 1e6), st.floats(1.0, 1000.0)), max_size=30))
def test_what_is_believed_agrees_and_is_no_less_than_any_falling_row(rows: list[tuple[float, float]]) -> None:
    found = believable(sorted(rows), 0.0)
    assert all(after[1] <= before[1] for before, after in pairwise(found))
    assert set(found) <= set(rows)
    assert bool(found) == bool(rows)


def test_the_first_sensor_of_a_role_is_read_with_its_offset(whole_run: WholeRun) -> None:
    chamber = whole_run.settings.chamber
    assert channel(chamber, "door-that-is-not") is None
    two = replace(chamber, sensors=(Sensor(name="x", role="humidity", device="d", offset=1.5), *chamber.sensors))
    assert channel(two, "humidity") == ("x", 1.5)


def test_a_filter_of_system_calls_that_forbids_giving_way_does_not_end_the_forecast(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """As systemd's @resources group did under the shipped unit."""

    def forbidden(increment: int) -> int:
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr(foretell.os, "nice", forbidden)
    monkeypatch.setattr(foretell.signal, "alarm", lambda seconds: 0)
    monkeypatch.setattr(foretell.Path, "write_text", lambda path, text: len(text))  # not this process's own score
    monkeypatch.setattr(foretell, "answer", lambda asked: ("answered", asked))
    monkeypatch.setattr(foretell.sys, "stdin", SimpleNamespace(buffer=BytesIO(pickle.dumps("asked"))))
    told = BytesIO()
    monkeypatch.setattr(foretell.sys, "stdout", SimpleNamespace(buffer=told))
    foretell.main()
    assert pickle.loads(told.getvalue()) == ("answered", "asked")
