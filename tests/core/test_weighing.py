"""From weights to losses: the filter follows without lag, ignores a touch, and never calls a piece done too early."""

from __future__ import annotations

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.core.bench_chamber import chamber, piece

from dryward.core.chamber import Scale
from dryward.core.inputs import Reading, Weighing
from dryward.core.layout import lay_out
from dryward.core.weighing import PieceState, played, refuse_weight, settle, take_readings, weigh_in

HOOK = Scale(name="hook", device="amp", tare_g=200.0)
LAYOUT = lay_out(chamber(scales=(HOOK,)))


def hang(green_g: float = 1000.0) -> tuple[PieceState, ...]:
    return (PieceState(piece("a", green_g, scale="hook")),)


def feed(
    pieces: tuple[PieceState, ...], net_g: float, at_s: float, *, door_open: bool = False
) -> tuple[PieceState, ...]:
    return take_readings(LAYOUT, pieces, (Reading("hook", net_g + 200.0, at_s),), door_open=door_open)


def test_the_tare_is_taken_off() -> None:
    assert feed(hang(), 990.0, 30.0)[0].weight_g == pytest.approx(990.0)


def test_a_steady_loss_is_followed_without_lag() -> None:
    """A level-and-slope average has no steady error on a straight line (a property of double exponential smoothing)."""
    pieces = hang()
    for i in range(1, 721):
        pieces = feed(pieces, 1000.0 - 0.01 * i * 30.0, i * 30.0)
    assert pieces[0].weight_g == pytest.approx(1000.0 - 0.01 * 720 * 30.0, abs=0.5)


def test_noise_is_averaged() -> None:
    chance = random.Random(3)
    pieces = hang()
    worst = 0.0
    for i in range(1, 1000):
        pieces = feed(pieces, 900.0 - 0.002 * i * 30.0 + chance.gauss(0.0, 2.0), i * 30.0)
        if i > 300:
            assert pieces[0].weight_g is not None
            worst = max(worst, abs(pieces[0].weight_g - (900.0 - 0.002 * i * 30.0)))
    assert worst < 2.0


def test_a_touch_of_the_hook_does_not_count() -> None:
    pieces = hang()
    for i in range(1, 100):
        pieces = feed(pieces, 800.0, i * 30.0)
    for i in range(100, 106):
        pieces = feed(pieces, 400.0, i * 30.0)
    assert pieces[0].weight_g == pytest.approx(800.0, abs=0.5)


def test_a_weight_that_stays_different_is_believed_in_the_end() -> None:
    pieces = hang()
    for i in range(1, 100):
        pieces = feed(pieces, 800.0, i * 30.0)
    for i in range(100, 160):
        pieces = feed(pieces, 700.0, i * 30.0)
    assert pieces[0].weight_g == pytest.approx(700.0, abs=1.0)


def test_an_open_door_weighs_nothing() -> None:
    assert feed(hang(), 990.0, 30.0, door_open=True)[0].weight_g is None


def test_an_empty_hook_is_no_weight() -> None:
    assert feed(hang(), 1.0, 30.0)[0].weight_g is None


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


@given(green_g=st.floats(5.0, 20_000.0), share=st.floats(0.1, 1.02))
def test_every_weight_between_a_tenth_and_two_per_cent_more_is_taken(green_g: float, share: float) -> None:
    state = PieceState(piece("a", green_g))
    weight_g = green_g * min(max(share, 0.1001), 1.0199)
    assert refuse_weight(state, weight_g) is None
    after = weigh_in(state, weight_g, 1.0)
    assert after.loss_pct == pytest.approx(100.0 * (1.0 - weight_g / green_g))


def test_a_recorded_weight_that_cannot_be_true_is_told_and_changes_nothing() -> None:
    pieces = hang()
    after, events = played(pieces, (Weighing("a", 5000.0, 1.0), Weighing("ghost", 500.0, 1.0)))
    assert after == pieces
    assert [e.kind for e in events] == ["weighing-refused", "weighing-refused"]
    assert "ghost" in events[1].text
