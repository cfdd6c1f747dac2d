"""What a program still has in store: times of its steps, its ramps, its end."""

from __future__ import annotations

from collections.abc import Sequence
from math import inf

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dryward.core.coming import coming
from dryward.core.program import AtEnd, Ends, Program, Step
from dryward.core.progress import Run
from dryward.science.pace import AirAt

H = 3600.0


def never(loss_pct: float | None, who: str, airs: Sequence[AirAt]) -> float:
    return inf


def run_of(*steps: Step, cap_h: float = 200.0, at_end: AtEnd | None = None, **more: float) -> Run:
    made = Program(name="p", cap_h=cap_h, steps=steps, at_end=at_end or AtEnd())
    return Run(phase="running", run_id="r", program=made, **more)  # type: ignore[arg-type]


def hot(air_c: float, **ends: object) -> Step:
    return Step(name=f"s{air_c:.0f}", air_c=air_c, ends=Ends(**ends))  # type: ignore[arg-type]


TWO = (hot(80.0, dwell_h=24.0), hot(70.0, own_target=True))


def test_the_rest_of_the_dwell_counts_and_the_last_step_lasts_until_the_cap() -> None:
    found = coming(run_of(*TWO, dwell_s=20 * H), 80.0, never, 30 * H)
    assert [(a.t_s, a.air_c) for a in found.airs] == [(30 * H, 80.0), (34 * H, 70.0)]
    assert found.over_s == 200 * H


def test_a_program_of_times_alone_is_over_with_its_last_step_or_when_it_no_longer_keeps_warm() -> None:
    steps = (hot(80.0, dwell_h=24.0), hot(70.0, cap_h=10.0, core_c=75.0))
    assert coming(run_of(*steps), 80.0, never, 0.0).over_s == 34 * H
    warm = coming(run_of(*steps, at_end=AtEnd(action="keep-warm", air_c=62.0, max_h=3.0)), 80.0, never, 0.0)
    assert warm.over_s == 37 * H
    assert warm.airs[-1] == AirAt(t_s=34 * H, air_c=62.0)


def test_while_it_is_kept_warm_only_the_rest_of_that_is_left() -> None:
    run = run_of(*TWO, at_end=AtEnd(action="keep-warm", air_c=62.0, max_h=3.0), step_index=2, step_s=1 * H)
    assert coming(run, 62.0, never, 50 * H).over_s == 52 * H


@pytest.mark.parametrize(("when", "over_h"), [("first", 5.0), ("all", 9.0)])
def test_a_step_that_ends_by_loss_asks_when_that_will_be(when: str, over_h: float) -> None:
    asked: list[tuple[float | None, str, int]] = []

    def reach(loss_pct: float | None, who: str, airs: Sequence[AirAt]) -> float:
        asked.append((loss_pct, who, len(airs)))
        return 9.0 * H

    steps = (hot(80.0, dwell_h=5.0, loss_pct=20.0, pieces="any", when=when), hot(60.0, own_target=True))
    found = coming(run_of(*steps), 80.0, reach, 0.0)
    assert found.airs[1].t_s == over_h * H
    assert asked == [(20.0, "any", 1), (None, "all", 2)]


def test_a_ramp_goes_from_the_air_as_it_is_to_the_setpoint() -> None:
    step = Step(name="up", air_c=16.0, ramp_k_per_h=1.0, rh_pct=75.0, ends=Ends(own_target=True))
    airs = coming(run_of(step), 4.0, never, 0.0).airs
    assert [a.t_s for a in airs] == [0.0, 3 * H, 6 * H, 9 * H, 12 * H]
    assert [a.air_c for a in airs] == [5.5, 8.5, 11.5, 14.5, 16.0]
    assert {a.rh_pct for a in airs} == {75.0}


def test_a_step_that_only_watches_says_nothing_of_the_air() -> None:
    step = Step(name="rest", watch_only=True, ends=Ends(dwell_h=96.0))
    found = coming(run_of(step), 3.0, never, 0.0)
    assert (found.airs, found.over_s) == ((), 96 * H)


def test_without_a_program_nothing_is_known() -> None:
    assert coming(Run(), 20.0, never, 0.0).over_s == inf


ENDS = st.builds(
    Ends,
    dwell_h=st.floats(0.5, 50.0),
    loss_pct=st.none() | st.floats(1.0, 60.0),
    cap_h=st.none() | st.floats(0.5, 90.0),
    when=st.sampled_from(["first", "all"]),
)
STEPS = st.lists(
    st.builds(Step, name=st.just("s"), air_c=st.floats(10.0, 90.0), ends=ENDS, ramp_k_per_h=st.none() | st.floats(1.0, 60.0)),
    min_size=1,
    max_size=5,
)  # fmt: skip


@given(STEPS, st.floats(0.0, 40.0), st.floats(1.0, 100.0), st.floats(0.0, 90.0))
def test_whatever_the_program_it_is_over_by_its_cap_and_never_before_now(
    steps: list[Step], gone_h: float, cap_h: float, reached_h: float
) -> None:
    run = run_of(*steps, cap_h=cap_h, step_s=gone_h * H, dwell_s=gone_h * H)
    now = min(gone_h, cap_h) * H
    found = coming(run, 50.0, lambda loss_pct, who, airs: reached_h * H, now)
    assert now <= found.over_s <= cap_h * H
    assert all(a.t_s >= now for a in found.airs)
