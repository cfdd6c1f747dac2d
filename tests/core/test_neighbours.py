"""A piece that dries unlike its neighbours is told once; size and form alone are no reason."""

from __future__ import annotations

import random

from dryward.core.neighbours import look
from dryward.core.weighing import PieceState, weigh_in
from tests.core.bench_chamber import piece
from tests.core.weigh_scene import HOUR_S, Scene, some_pieces


def weighed(*losses_pct: float, at_h: float = 20.0) -> tuple[PieceState, ...]:
    """Pieces of one size, weighed at one time."""
    return tuple(
        weigh_in(PieceState(piece(f"p{k}", 800.0)), 800.0 * (1.0 - loss / 100.0), at_h * HOUR_S)
        for k, loss in enumerate(losses_pct)
    )


def test_a_piece_at_half_the_loss_of_the_others_is_told_once() -> None:
    pieces, events = look(weighed(20.0, 21.0, 11.0, 19.0), 0.0, 20.0 * HOUR_S)
    assert [(e.kind, e.subject) for e in events] == [("dries-unlike", "p2")]
    assert "place" in events[0].advice
    assert look(pieces, 0.0, 21.0 * HOUR_S) == (pieces, ())


def test_a_piece_far_ahead_is_told_too() -> None:
    _, events = look(weighed(20.0, 21.0, 29.0, 19.0), 0.0, 20.0 * HOUR_S)
    assert [e.subject for e in events] == ["p2"]


def test_usual_differences_are_not_worth_a_word() -> None:
    pieces = weighed(20.0, 22.0, 18.0, 19.0)
    assert look(pieces, 0.0, 20.0 * HOUR_S) == (pieces, ())


def test_two_pieces_alone_are_no_neighbourhood() -> None:
    pieces = weighed(20.0, 8.0)
    assert look(pieces, 0.0, 20.0 * HOUR_S) == (pieces, ())


def test_a_weight_of_yesterday_tells_nothing() -> None:
    pieces = weighed(20.0, 21.0, 11.0, 19.0, at_h=20.0)
    assert look(pieces, 0.0, 40.0 * HOUR_S) == (pieces, ())


def test_pieces_of_every_size_and_form_dry_alike_once_that_is_allowed_for() -> None:
    """On the twin, 400 to 1200 g of the same meat, looked at every few hours until the end."""
    scene = Scene(some_pieces(random.Random(2), 6), seed=2)
    for _ in range(12):
        scene.run(4.0 * HOUR_S)
        for state in scene.states:
            scene.weigh(state.piece.name)
        assert look(scene.states, 0.0, scene.now)[1] == ()
