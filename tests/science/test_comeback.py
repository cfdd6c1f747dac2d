"""When to come back: few openings, none too late, none at night."""

from __future__ import annotations

from itertools import combinations, pairwise
from math import inf

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dryward.science.comeback import (
    AGAIN_S,
    FURTHEST,
    LEAST_LATE_S,
    MOST_LATE_S,
    Awaited,
    Span,
    late_s,
    openings,
    plan,
    span,
    stab,
)

H = 3600.0


def waits(
    piece: str = "a", *, finish_h: float = 20.0, half_h: float = 2.0, late_h: float = 1.0, by_hand: bool = True
) -> Awaited:
    lo, hi = finish_h - half_h, finish_h + half_h
    return Awaited(
        piece=piece, by_hand=by_hand, finish_s=finish_h * H, lo_s=lo * H, hi_s=hi * H, late_s=late_h * H
    )  # fmt: skip


def left_h(*weighings: tuple[float, float], finish_h: float) -> float:
    rows = [(t * H, g) for t, g in weighings]
    return late_s(green_g=1000.0, target_g=650.0, weighings=rows, finish_s=finish_h * H) / H


def test_so_much_time_is_left_as_a_hundredth_of_the_green_weight_takes() -> None:
    # Expected: 100 g in 20 h, 5 g/h, and 1 % of 1000 g is 10 g: 2 h.
    assert left_h((0.0, 750.0), finish_h=20.0) == pytest.approx(2.0)
    # Before: 30 g in 3 h, 10 g/h, which is quicker: 1 h.
    assert left_h((0.0, 1000.0), (97.0, 780.0), (100.0, 750.0), finish_h=120.0) == pytest.approx(1.0)


def test_the_last_grams_say_nothing_of_the_rate() -> None:
    """Near the target a gram of noise would make hours of it."""
    far = left_h((0.0, 700.0), (10.0, 670.0), finish_h=16.0)
    near = left_h((0.0, 700.0), (10.0, 670.0), (16.0, 651.0), (16.2, 651.0), finish_h=17.0)
    assert near == pytest.approx(far, rel=0.2)


def test_the_time_left_is_never_none_and_never_days() -> None:
    assert left_h((0.0, 750.0), finish_h=inf) * H == LEAST_LATE_S
    assert left_h((0.0, 651.0), finish_h=900.0) * H == MOST_LATE_S
    assert left_h((0.0, 950.0), (0.1, 800.0), finish_h=0.2) * H == LEAST_LATE_S


def test_a_doubtful_piece_is_weighed_before_it_can_be_dried_too_far_and_no_earlier_than_useful() -> None:
    found = span(waits(finish_h=20.0, half_h=4.0, late_h=1.0), 0.0)
    assert found.to_s == pytest.approx((20.0 - 4.0 + 1.0) * H)
    # From 15 h on what is left (5 h of 20 h, so a doubt of 1 h) lies within the time that is left: one more will do.
    assert found.from_s == pytest.approx(15.0 * H)


def test_a_sure_piece_is_weighed_when_it_is_probably_ready() -> None:
    found = span(waits(finish_h=20.0, half_h=0.5, late_h=1.0), 0.0)
    assert (found.from_s, found.to_s) == (20 * H, pytest.approx(20.5 * H))


def test_more_certainty_comes_earlier() -> None:
    one = waits(half_h=4.0)
    assert span(one, 0.0, certainty=0.99).to_s < span(one, 0.0).to_s < span(one, 0.0, certainty=0.8).to_s


def test_a_piece_on_a_scale_is_only_come_for_when_it_is_ready() -> None:
    (visit,) = plan([waits(by_hand=False, half_h=5.0)], (), (), 0.0)
    assert (visit.weigh, visit.ready) == ((), ("a",))
    assert visit.at_s >= 20 * H


def test_what_is_ready_is_come_for_now_and_what_never_ends_is_not_waited_for() -> None:
    assert plan([waits(finish_h=1.0, half_h=0.1)], (), (), 5 * H)[0].at_s == 5 * H
    assert plan([Awaited(piece="a", by_hand=True, finish_s=inf, lo_s=inf, hi_s=inf, late_s=H)], (), (), 0.0) == ()


def test_pieces_that_agree_share_one_opening() -> None:
    visits = plan([waits("a", finish_h=20.0), waits("b", finish_h=20.3), waits("c", finish_h=44.0)], (), (), 0.0)
    assert visits[0].weigh == ("a", "b")
    assert all(v.weigh.count("c") <= 1 for v in visits)


def test_a_piece_that_cannot_be_forecast_yet_is_weighed_too() -> None:
    visits = plan([waits("a")], [Span("new", 2 * H, 6 * H)], (), 0.0)
    assert (visits[0].at_s, visits[0].weigh) == (6 * H, ("new",))


def test_quiet_hours_are_gone_round_to_the_safe_side() -> None:
    night = [(22 * H, 30 * H)]
    assert stab([Span("a", 20 * H, 25 * H)], night) == 22 * H  # in the evening: nothing is dried too far
    assert stab([Span("a", 23 * H, 25 * H)], night) == 30 * H  # in the evening it would be of no use
    assert stab([Span("a", 20 * H, 22 * H)], night) == 22 * H
    assert stab([Span("a", 20 * H, 31 * H)], night) == 31 * H


SPANS = st.lists(
    st.builds(
        lambda k, a, d: Span(str(k), float(a), float(a + d)),
        st.integers(0, 99), st.integers(0, 60), st.integers(0, 20),
    ),
    max_size=6,
)  # fmt: skip


@given(SPANS)
def test_no_plan_has_fewer_openings_and_every_span_is_hit(spans: list[Span]) -> None:
    moments = openings(spans)
    assert all(any(s.from_s <= t <= s.to_s for t in moments) for s in spans)
    ends = sorted({s.to_s for s in spans})
    for fewer in range(len(moments)):
        for tried in combinations(ends, fewer):  # an optimal plan can always be moved to ends of spans
            assert not all(any(s.from_s <= t <= s.to_s for t in tried) for s in spans)


AWAITED = st.lists(
    st.builds(
        lambda k, f, h, late, hand: waits(str(k), finish_h=f, half_h=h * f, late_h=late, by_hand=hand),
        st.integers(0, 9), st.floats(0.1, 300.0), st.floats(0.0, 0.9), st.floats(0.5, 24.0), st.booleans(),
    ),
    max_size=5,
    unique_by=lambda one: one.piece,
)  # fmt: skip


@given(AWAITED, st.floats(0.0, 24.0), st.floats(1.0, 12.0), st.floats(0.0, 100.0))
def test_a_plan_goes_forward_never_comes_at_night_and_never_dries_too_far_but_for_the_night(
    awaited: list[Awaited], evening_h: float, night_h: float, now_h: float
) -> None:
    quiet = [((24 * d + evening_h) * H, (24 * d + evening_h + night_h) * H) for d in range(-1, 60)]
    now = now_h * H
    visits = plan(awaited, (), quiet, now)
    assert len(visits) <= FURTHEST
    times = [v.at_s for v in visits]
    assert times == sorted(times)
    for visit in visits:
        assert visit.at_s >= now
        assert visit.weigh or visit.ready
        assert not any(begin < visit.at_s < end for begin, end in quiet)
    if visits:
        first = visits[0].at_s
        deadline = min(max(now, span(one, now).to_s) for one in awaited)
        assert first <= deadline or any(begin < deadline < end == first for begin, end in quiet)


@given(AWAITED, st.floats(0.0, 100.0))
def test_every_piece_that_ends_is_come_for_and_ready_in_the_end(awaited: list[Awaited], now_h: float) -> None:
    visits = plan(awaited, (), (), now_h * H)
    ready = [name for v in visits for name in v.ready]
    assert len(ready) == len(set(ready))
    if len(visits) < FURTHEST:
        assert set(ready) == {one.piece for one in awaited}


@given(st.floats(1.0, 200.0), st.floats(0.01, 0.9), st.floats(0.5, 10.0))
def test_a_doubtful_piece_takes_more_openings_than_a_sure_one(finish_h: float, half: float, late_h: float) -> None:
    sure = plan([waits(finish_h=finish_h, half_h=0.0, late_h=late_h)], (), (), 0.0)
    doubtful = plan([waits(finish_h=finish_h, half_h=half * finish_h, late_h=late_h)], (), (), 0.0)
    assert len(sure) == 1
    assert len(doubtful) >= 1
    assert doubtful[-1].ready == ("a",) or len(doubtful) == FURTHEST
    gaps = [b.at_s - a.at_s for a, b in pairwise(doubtful)]
    assert all(gap >= min(AGAIN_S, 1.0) for gap in gaps)
