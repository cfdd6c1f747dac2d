"""From weights to losses: what is taken, what is refused, what is certain enough to be called done."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dryward.core.inputs import Weighing
from dryward.core.weighing import (
    CERTAIN,
    PieceState,
    doubt_weight,
    has_lost,
    played,
    refuse_weight,
    settle,
    weigh_in,
    weighs,
)
from tests.core.bench_chamber import piece


def test_a_piece_is_done_at_its_own_target_and_not_before() -> None:
    state = weigh_in(PieceState(piece("a", 1000.0)), 650.1, 100.0)
    assert settle(state, 100.0) is state
    done = settle(weigh_in(state, 650.0, 200.0), 200.0)
    assert done.status == "done"
    assert done.final_g == 650.0
    assert settle(done, 300.0) is done  # told once


def test_the_crossing_is_interpolated_between_two_weigh_ins() -> None:
    state = weigh_in(weigh_in(PieceState(piece("a", 1000.0)), 700.0, 0.0), 600.0, 1000.0)
    done = settle(state, 1000.0)
    assert done.crossed_s == pytest.approx(500.0)


def test_an_estimate_counts_when_its_whole_interval_lies_below() -> None:
    """The 90 % interval of a normal distribution ends 1.645 standard deviations out."""
    state = weighs(PieceState(piece("a", 1000.0)), 645.0, 0.0, 4.0)
    assert not has_lost(state, 35.0)
    assert has_lost(weighs(state, 650.0 - CERTAIN * 4.0, 10.0, 4.0), 35.0)


@given(green_g=st.floats(5.0, 20_000.0), share=st.floats(0.1, 1.02))
def test_every_weight_between_a_tenth_and_two_per_cent_more_is_taken(green_g: float, share: float) -> None:
    state = PieceState(piece("a", green_g))
    weight_g = green_g * min(max(share, 0.1001), 1.0199)
    assert refuse_weight(state, weight_g) is None
    after = weigh_in(state, weight_g, 1.0)
    assert after.loss_pct == pytest.approx(100.0 * (1.0 - weight_g / green_g))


def test_a_weight_above_the_last_one_is_taken_with_a_question() -> None:
    state = weigh_in(PieceState(piece("a", 1000.0)), 700.0, 0.0)
    assert doubt_weight(state, 690.0, 3600.0) is None
    assert doubt_weight(state, 702.0, 3600.0) is None
    doubt = doubt_weight(state, 760.0, 3600.0)
    assert doubt is not None
    assert "60 g more" in doubt


def test_a_loss_that_is_too_quick_is_taken_with_a_question() -> None:
    hour = 3600.0
    state = weigh_in(weigh_in(PieceState(piece("a", 1000.0)), 850.0, 0.0), 800.0, 5 * hour)  # 10 g/h
    assert doubt_weight(state, 760.0, 7 * hour) is None  # 20 g/h: the air may be hotter now
    doubt = doubt_weight(state, 700.0, 7 * hour)
    assert doubt is not None
    assert "100 g less than the 800 g" in doubt
    assert doubt_weight(state, 500.0, 24 * hour) is None  # so long ago that it may have lost that


def test_a_first_loss_is_only_doubted_where_no_meat_dries_so_fast() -> None:
    state = weigh_in(PieceState(piece("a", 1000.0)), 1000.0, 0.0)
    assert doubt_weight(state, 800.0, 3600.0) is None
    assert doubt_weight(state, 700.0, 3600.0) is not None
    assert doubt_weight(state, 960.0, 1.0) is None  # another scale


def test_an_uncertain_estimate_is_no_reason_to_doubt_a_weighing() -> None:
    state = weighs(PieceState(piece("a", 1000.0)), 700.0, 0.0, 25.0)
    assert doubt_weight(state, 760.0, 3600.0) is None


def test_a_recorded_weight_that_cannot_be_true_is_told_and_changes_nothing() -> None:
    pieces = (PieceState(piece("a", 1000.0)),)
    after, events = played(pieces, (Weighing("a", 5000.0, 1.0), Weighing("ghost", 500.0, 1.0)))
    assert after == pieces
    assert [e.kind for e in events] == ["weighing-refused", "weighing-refused"]
    assert "ghost" in events[1].text
