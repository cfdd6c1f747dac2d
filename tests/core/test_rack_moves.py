"""What was lifted off the rack and hung back: named, asked about, answered, and never lost count of for long."""

from __future__ import annotations

import random

import pytest

from dryward.core.chamber import Scale
from dryward.core.program import Piece
from tests.bench.weighing import one_lift, weigh_all
from tests.core.bench_chamber import piece
from tests.core.weigh_scene import Scene, some_pieces
from tests.core.weigh_stand import Stand

RACK = Scale(name="rack", device="frame", carries="rack", max_g=40_000.0)
HOOK = Scale(name="hook", device="amp")
GREENS = {"a": 600.0, "b": 800.0, "c": 1000.0, "d": 1003.0}


def stand(*names: str) -> Stand:
    """A rack whose pieces have just been weighed by hand."""
    made = Stand([piece(n, GREENS[n]) for n in names], [RACK])
    made.run(1200.0)
    for n in names:
        made.weigh(n)
    made.run(600.0)
    return made


def test_the_piece_that_is_lifted_is_named_and_its_weight_is_the_step() -> None:
    made = stand("a", "b", "c")
    made.off("b")
    made.run(90.0)
    assert made.said() == [("lifted", "b")]
    assert made.wrong_g("b") == pytest.approx(0.0, abs=1.0)
    assert made.state("b").sigma_g < 1.5
    made.back("b")
    made.run(90.0)
    assert made.said()[1:] == [("put-back", "b")]
    made.run(3600.0)
    assert made.wrong_g("b") == pytest.approx(0.0, abs=3.0)


def test_two_that_are_alike_are_asked_about_and_put_back_ends_the_question() -> None:
    made = stand("a", "c", "d")
    made.off("d")
    made.run(90.0)
    assert made.said() == [("which-lifted", "c,d")]
    assert "dryward weigh c GRAMS" in made.events[0].advice
    made.back("d")
    made.run(90.0)
    assert made.said()[1:] == [("put-back", "")]
    assert made.racks[0].doubts == ()


def test_the_owner_s_weighing_answers_which_it_was() -> None:
    made = stand("a", "c", "d")
    made.off("d")
    made.run(90.0)
    made.weigh("d")
    made.run(60.0)
    assert made.racks[0].doubts == ()
    assert made.state("d").off_s is not None
    assert made.state("c").off_s is None
    made.back("d")
    made.run(90.0)
    assert made.said()[1:] == [("put-back", "d")]


def test_pulling_it_answers_too_and_the_rest_goes_on() -> None:
    made = stand("a", "c", "d")
    made.off("d")
    made.run(90.0)
    made.pull("d")
    made.run(3600.0)
    assert made.racks[0].doubts == ()
    assert [m.name for m in made.racks[0].members] == ["a", "c"]
    assert made.wrong_g("c") == pytest.approx(0.0, abs=3.0)


def test_what_was_said_to_be_out_is_what_was_lifted() -> None:
    """c and d are alike, but c was pulled a moment before."""
    made = stand("a", "c", "d")
    made.pull("c")
    made.off("c")
    made.run(120.0)
    assert [m.name for m in made.racks[0].members] == ["a", "d"]
    assert made.said() == []


def test_several_that_were_pulled_may_go_at_once() -> None:
    made = stand("a", "b", "c")
    made.pull("a")
    made.pull("b")
    made.off("a", "b")
    made.run(120.0)
    assert [m.name for m in made.racks[0].members] == ["c"]


def test_one_hung_back_and_the_next_taken_between_two_samples() -> None:
    made = stand("a", "b", "c")
    made.off("a")
    made.run(90.0)
    made.back("a")
    made.off("c")
    made.run(90.0)
    assert made.said() == [("lifted", "a"), ("put-back", "a"), ("lifted", "c")]
    assert made.wrong_g("c") == pytest.approx(0.0, abs=3.0)


def test_a_stranger_on_the_rack_is_asked_about_and_counts_for_nobody() -> None:
    made = stand("a", "b", "c")
    made.extra_g["rack"] = 450.0
    made.run(3600.0)
    assert made.said() == [("which-back", "")]
    assert made.wrong_g("a") == pytest.approx(0.0, abs=3.0)
    made.extra_g["rack"] = 0.0
    made.run(3600.0)
    assert made.racks[0].strangers == ()
    assert made.wrong_g("a") == pytest.approx(0.0, abs=4.0)


def test_a_piece_that_was_cut_outside_is_asked_about_and_the_answer_is_taken() -> None:
    made = stand("a", "b", "c")
    made.off("b")
    made.run(90.0)
    made.true_g["b"] -= 150.0
    made.back("b")
    made.run(90.0)
    assert made.said()[-1] == ("which-back", "")
    made.weigh("b")
    made.run(3600.0)
    assert made.racks[0].strangers == ()
    assert made.state("b").off_s is None
    assert made.wrong_g("b") == pytest.approx(0.0, abs=3.0)
    assert made.wrong_g("a") == pytest.approx(0.0, abs=4.0)


def test_a_small_jump_is_the_scale_s_and_its_way_back_too() -> None:
    made = stand("a", "b", "c")
    made.extra_g["rack"] = -25.0
    made.run(1200.0)
    assert made.said() == [("scale-shifted", "rack")]
    assert made.wrong_g("a") == pytest.approx(0.0, abs=2.0)
    made.extra_g["rack"] = 0.0
    made.run(1200.0)
    assert made.racks[0].shift_g == 0.0
    assert made.wrong_g("a") == pytest.approx(0.0, abs=2.0)


def test_whatever_was_thought_a_full_rack_is_full() -> None:
    """Three taken at once, as nobody expects: asked about; when all hang again, nothing is missing."""
    made = Stand([piece(n, g) for n, g in {**GREENS, "e": 905.0}.items()], [RACK])
    made.run(1800.0)
    made.off("a", "b", "e")
    made.run(120.0)
    assert made.said()[0][0] == "which-lifted"
    made.back("a")
    made.run(35.0)
    made.back("e")
    made.back("b")
    made.run(300.0)
    assert made.racks[0].doubts == ()
    assert made.racks[0].strangers == ()
    assert all(m.hangs for m in made.racks[0].members)


def test_a_piece_with_its_own_cell_is_not_told_twice() -> None:
    made = Stand(
        [piece("a", 600.0), piece("b", 800.0), piece("own", 700.0, scale="hook")],
        [RACK, HOOK],
        on={"a": ("rack",), "b": ("rack",), "own": ("rack", "hook")},
    )
    made.run(3600.0)
    made.off("own")
    made.run(120.0)
    assert made.said() == [("lifted", "own")]


def test_while_it_is_unknown_what_hangs_there_nobody_is_called_done() -> None:
    made = Stand([piece(n, GREENS[n]) for n in ("a", "c", "d")], [RACK], rate=0.05)
    made.run(1200.0)
    made.off("d")
    made.run(120.0)
    assert made.said() == [("which-lifted", "c,d")]
    made.run(12.0 * 3600.0)
    assert {s.status for s in made.states} == {"drying"}


def test_on_the_twin_lifted_pieces_are_named_or_asked_about_and_never_mistaken() -> None:
    """A score of lifts of the bench's 500 (python -m tests.bench.weighing lifts)."""
    chance = random.Random(21)
    scene = Scene(some_pieces(chance, 5), seed=21, meat_spread=0.15)
    scene.run(600.0)
    weigh_all(scene)
    found: list[tuple[bool, str]] = []
    for _ in range(20):
        scene.run(chance.uniform(600.0, 3600.0))
        found.append(one_lift(scene, chance.choice(scene.states).piece.name, chance.uniform(70.0, 240.0)))
    apart = [what for close, what in found if not close]
    assert len(apart) >= 10
    assert set(apart) == {"named rightly"}
    assert "named wrongly" not in [what for _, what in found]


def test_on_the_twin_two_alike_to_a_gram_are_always_asked_about() -> None:
    scene = Scene(
        [Piece(name="a", green_g=750.0), Piece(name="b", green_g=750.5), Piece(name="c", green_g=600.0)], seed=3
    )
    scene.run(600.0)
    weigh_all(scene)
    for name in ("a", "b", "a"):
        scene.run(1800.0)
        assert one_lift(scene, name, 90.0) == (True, "asked")
