"""One scale for the rack: weights from the sum, weighings that teach, certain ends, asking in time."""

from __future__ import annotations

import random

import pytest

from dryward.core.chamber import Scale
from dryward.core.program import Piece
from dryward.core.rack import UNSURE
from dryward.core.weighing import CERTAIN
from tests.core.bench_chamber import piece
from tests.core.weigh_scene import HOUR_S, Scene, some_pieces
from tests.core.weigh_stand import Stand

RACK = Scale(name="rack", device="frame", carries="rack", tare_g=2000.0, max_g=40_000.0)
HOOK = Scale(name="hook", device="amp")
GREENS = {"a": 600.0, "b": 800.0, "c": 1000.0}


def pieces(**more: object) -> list[Piece]:
    return [piece(name, green_g, **more) for name, green_g in GREENS.items()]


def stand(*, rate: float = 0.002) -> Stand:
    made = Stand(pieces(), [RACK], rate=rate)
    made.run(1800.0)
    return made


def test_every_piece_has_a_weight_with_its_doubt_from_the_first_sum_on() -> None:
    made = stand()
    for name in GREENS:
        assert made.wrong_g(name) == pytest.approx(0.0, abs=3.0)
        assert 2.0 < made.state(name).sigma_g < 25.0


def test_an_empty_rack_waits_and_a_rack_hung_piece_by_piece_begins_when_it_is_full() -> None:
    made = Stand(pieces(), [RACK], on=dict.fromkeys(GREENS, ()))
    made.run(1800.0)
    for name in GREENS:
        assert made.state("a").weight_g is None
        made.back(name)
        made.run(120.0)
    made.run(600.0)
    assert made.wrong_g("c") == pytest.approx(0.0, abs=3.0)
    assert made.said() == []


def test_a_sum_that_cannot_be_true_is_told_once() -> None:
    """A tare that was never entered: two kilograms too much."""
    made = Stand(pieces(), [RACK])
    made.extra_g["rack"] = 2000.0
    made.run(4.0 * HOUR_S)
    assert made.said() == [("weight-odd", "rack")]
    assert made.state("a").weight_g is None


def test_a_weighing_by_hand_is_kept_and_carried_on() -> None:
    made = stand()
    made.run(5.0 * HOUR_S)
    made.weigh("b", made.true_g["b"] - 30.0)
    assert made.state("b").sigma_g == 0.0
    made.run(600.0)
    assert made.state("b").weight_g == pytest.approx(made.true_g["b"] - 30.0, abs=3.0)
    assert made.state("b").sigma_g < 3.0


def test_a_new_batch_of_the_same_names_begins_anew() -> None:
    made = stand(rate=0.02)
    made.run(5.0 * HOUR_S)
    fresh = Stand(pieces(), [RACK])
    made.states, made.true_g = fresh.states, dict(GREENS)
    made.run(1800.0)
    assert made.state("a").loss_pct == pytest.approx(0.0, abs=3.0)


def test_pieces_on_cells_of_their_own_may_hang_on_the_rack_or_beside_it() -> None:
    for on in (("hook", "rack"), ("hook",)):
        made = Stand(
            [*pieces(), piece("own", 700.0, scale="hook")],
            [RACK, HOOK],
            on={**dict.fromkeys(GREENS, ("rack",)), "own": on},
        )
        made.run(2.0 * HOUR_S)
        assert made.wrong_g("own") == pytest.approx(0.0, abs=0.5)
        for name in GREENS:
            assert made.wrong_g(name) == pytest.approx(0.0, abs=5.0)
        assert made.said() == []


def test_without_a_rack_or_hooks_only_the_kitchen_scale_tells() -> None:
    made = Stand(pieces(), [])
    made.run(3600.0)
    assert made.state("a").weight_g is None
    made.weigh("a")
    made.run(3600.0)
    assert made.state("a").sigma_g == 0.0


def test_an_estimate_at_its_target_is_asked_about_once_and_done_only_when_it_is_certain() -> None:
    made = stand(rate=0.03)
    for name in GREENS:
        made.weigh(name)
    asked_g: dict[str, float] = {}
    said = 0
    while any(s.status == "drying" for s in made.states):
        made.run(300.0)
        for event in made.events[said:]:
            if event.kind == "weigh-wanted":
                assert event.subject not in asked_g
                assert event.value is not None
                asked_g[event.subject] = event.value
        said = len(made.events)
        for state in made.states:
            if state.status == "done":
                assert state.final_g is not None
                assert state.weight_g is not None
                assert state.weight_g + CERTAIN * state.sigma_g <= state.piece.target_g + 0.01
    assert set(asked_g) == set(GREENS)
    for name, green_g in GREENS.items():
        assert asked_g[name] <= 0.65 * green_g


def test_a_rack_that_has_become_unsure_asks_once_for_each_piece_to_be_weighed_again() -> None:
    made = stand(rate=0.02)
    for name in GREENS:
        made.weigh(name)
    made.run(HOUR_S)
    assert made.said() == []
    made.run(9.0 * HOUR_S)
    assert [kind for kind, _ in made.said()] == ["rack-unsure"]
    unsure = max(CERTAIN * s.sigma_g / s.piece.green_g for s in made.states)
    assert unsure > UNSURE
    for name in GREENS:
        made.weigh(name)
    made.run(5.0 * HOUR_S)
    assert max(CERTAIN * s.sigma_g / s.piece.green_g for s in made.states) < 0.5 * UNSURE
    assert [kind for kind, _ in made.said()] == ["rack-unsure"]


def test_a_rack_whose_pieces_were_not_each_weighed_at_the_start_does_not_ask_for_it() -> None:
    made = stand(rate=0.02)
    made.weigh("a")
    made.run(10.0 * HOUR_S)
    assert made.said() == []


def test_on_the_twin_with_a_weighing_at_the_start_and_one_later_losses_are_known_to_1_5_points() -> None:
    """One batch of the bench's many (python -m tests.bench.weighing rack), pieces that dry differently."""
    chance = random.Random(11)
    scene = Scene(some_pieces(chance, 4), seed=11, meat_spread=0.15)
    scene.run(600.0)
    wrong: list[float] = []
    for later in (False, True):
        for state in scene.states:
            scene.lift(state.piece.name, 90.0, by_hand=True)
        for _ in range(8 if not later else 30):
            scene.run(HOUR_S)
            truth = {p.name: p.loss_pct for p in scene.twin.truth().pieces}
            wrong += [(s.loss_pct or 0.0) - truth[s.piece.name] for s in scene.states if truth[s.piece.name] < 35.0]
    assert len(wrong) > 100
    assert sum(abs(w) <= 1.5 for w in wrong) >= 0.95 * len(wrong)
    assert all(s.status == "drying" or scene.true_g(s.piece.name) <= s.piece.target_g for s in scene.states)
