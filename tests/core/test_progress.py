"""Where a run stands in its program: dwell in the band only, forward only, and every run ends."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dryward.core.program import AtEnd, Ends, Program, Step
from dryward.core.progress import Run, advance, current_step, inside_band, over, target_air_c, top_air_c
from dryward.core.weighing import PieceState, weigh_in
from tests.core.bench_chamber import hot, piece, program

LOST_20 = (weigh_in(PieceState(piece("a")), 800.0, 0.0), weigh_in(PieceState(piece("b")), 900.0, 0.0))


def running(made: Program) -> Run:
    return Run(phase="running", run_id="r", program=made)


def through(
    run: Run, hours: float, air_c: float | None, pieces: tuple[PieceState, ...] = LOST_20, *, begin_s: float = 0.0
) -> Run:
    for i in range(round(hours * 60)):
        run, _ = advance(run, pieces, air_c, None, waits=False, dt_s=60.0, now=begin_s + 60.0 * (i + 1))
    return run


def test_dwell_counts_only_inside_the_band() -> None:
    made = program(hot("one", ends=Ends(dwell_h=2.0)), hot("two"))
    assert through(running(made), 5.0, 70.0).dwell_s == 0.0
    assert through(running(made), 1.0, 79.0).dwell_s == 3600.0
    assert through(running(made), 5.0, None).dwell_s == 0.0


def test_dwell_waits_while_the_guard_says_so() -> None:
    run, _ = advance(running(program(hot())), LOST_20, 80.0, None, waits=True, dt_s=60.0, now=60.0)
    assert run.dwell_s == 0.0


def test_a_step_ends_when_its_dwell_is_over_and_the_next_begins_at_zero() -> None:
    made = program(hot("one", ends=Ends(dwell_h=1.0)), hot("two", air_c=70.0))
    run = through(running(made), 1.0, 80.0)
    assert run.step_index == 1
    assert run.step_s == 0.0
    assert target_air_c(run) == 70.0


@pytest.mark.parametrize(
    ("ends", "met"),
    [
        (Ends(loss_pct=15.0), False),  # b has lost 10 % only
        (Ends(loss_pct=15.0, pieces="any"), True),
        (Ends(loss_pct=10.0), True),
        (Ends(own_target=True), False),
        (Ends(core_c=60.0), True),
        (Ends(core_c=62.0), False),
        (Ends(cap_h=1.0), True),
        (Ends(dwell_h=0.5), True),
        (Ends(dwell_h=0.5, core_c=62.0, when="all"), False),
        (Ends(dwell_h=0.5, core_c=61.0, when="all"), True),
        (Ends(dwell_h=3.0, core_c=99.0, cap_h=1.0, when="all"), True),  # the cap ends it either way
    ],
)
def test_conditions_end_a_step_alone_and_together(ends: Ends, met: bool) -> None:
    run = Run(phase="running", program=program(hot(ends=ends)), step_s=3600.0, dwell_s=1800.0)
    assert (over(ends, run, LOST_20, 61.0) is not None) is met


def test_a_watch_only_step_counts_inside_its_safe_band() -> None:
    rest = Step(name="rest", watch_only=True, safe_air_high_c=4.4, ends=Ends(dwell_h=72.0))
    assert inside_band(rest, 3.0)
    assert not inside_band(rest, 6.0)
    assert not inside_band(rest, None)
    assert inside_band(Step(name="log", watch_only=True, ends=Ends(cap_h=1.0)), None)


def test_keep_warm_follows_the_last_step_for_a_limited_time() -> None:
    made = Program(
        name="k",
        cap_h=50.0,
        steps=(hot(ends=Ends(dwell_h=1.0)),),
        at_end=AtEnd(action="keep-warm", air_c=62.0, max_h=2.0),
    )
    run = through(running(made), 1.0, 80.0)
    assert run.phase == "running"
    assert current_step(run) is None
    assert target_air_c(run) == 62.0
    run = through(run, 2.0, 62.0, begin_s=3600.0)
    assert run.phase == "complete"


def test_the_hottest_setpoint_counts_keep_warm_too() -> None:
    made = Program(name="k", cap_h=5.0, steps=(hot(air_c=50.0),), at_end=AtEnd(action="keep-warm", air_c=62.0))
    assert top_air_c(made) == 62.0
    assert top_air_c(program(Step(name="w", watch_only=True, ends=Ends(cap_h=1.0)))) is None


def test_an_end_says_which_pieces_are_short() -> None:
    made = program(hot(ends=Ends(cap_h=1.0)))
    run = running(made)
    told = []
    for i in range(61):
        run, events = advance(run, LOST_20, 80.0, None, waits=False, dt_s=60.0, now=60.0 * (i + 1))
        told.extend(events)
    assert run.phase == "complete"
    assert "Short of their target: a, b" in told[-1].text


@given(
    airs=st.lists(st.one_of(st.none(), st.floats(-20.0, 150.0)), min_size=1, max_size=80),
    dwell_h=st.floats(0.1, 2.0),
    cap_h=st.floats(0.5, 20.0),
)
def test_the_step_number_never_goes_back_and_the_run_ends(
    airs: list[float | None], dwell_h: float, cap_h: float
) -> None:
    made = program(hot("one", ends=Ends(dwell_h=dwell_h)), hot("two", air_c=60.0, ends=Ends(core_c=110.0)), cap_h=cap_h)
    run, index, inside_s = running(made), 0, 0.0
    for i in range(int(cap_h * 60) + 2):
        air_c = airs[i % len(airs)]
        was = run
        run, _ = advance(run, LOST_20, air_c, None, waits=False, dt_s=60.0, now=60.0 * (i + 1))
        assert run.step_index >= index
        if run.step_index == was.step_index and was.phase == "running" and run.phase == "running":
            step = current_step(was)
            assert step is not None
            inside_s = run.dwell_s - was.dwell_s
            assert inside_s == (60.0 if inside_band(step, air_c) else 0.0)
        index = run.step_index
    assert run.phase == "complete"
