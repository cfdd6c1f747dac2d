"""A cell per piece: weight, lifted off, back, exchanged, touched; never done by anything but drying."""

from __future__ import annotations

import pytest

from dryward.core.chamber import Scale
from dryward_hardware.twin.options import Sensing
from tests.bench.weighing import Ends, cells_batch
from tests.core.bench_chamber import piece
from tests.core.weigh_stand import Stand

HOOKS = (Scale(name="hook-1", device="amp", tare_g=20.0), Scale(name="hook-2", device="amp2"))


def stand(*, rate: float = 0.002) -> Stand:
    made = Stand([piece("a", 900.0, scale="hook-1"), piece("b", 700.0, scale="hook-2")], HOOKS, rate=rate)
    made.run(3600.0)
    return made


def test_each_piece_is_followed_on_its_own_cell() -> None:
    made = stand()
    assert made.wrong_g("a") == pytest.approx(0.0, abs=0.4)
    assert made.wrong_g("b") == pytest.approx(0.0, abs=0.4)
    assert made.said() == []


def test_an_empty_hook_waits_for_its_piece() -> None:
    made = Stand([piece("a", 900.0, scale="hook-1")], HOOKS[:1], on={"a": ()})
    made.run(1800.0)
    assert made.state("a").weight_g is None
    made.back("a", "hook-1")
    made.run(300.0)
    assert made.wrong_g("a") == pytest.approx(0.0, abs=1.0)


def test_a_weight_that_cannot_be_the_piece_is_asked_about_and_calls_nothing_done() -> None:
    """1000 g green, and the hook shows 600 g at once: 40 % lost in no time."""
    made = Stand([piece("a", 1000.0, scale="hook-1")], HOOKS[:1])
    made.true_g["a"] = 600.0
    made.run(3600.0)
    assert made.state("a").weight_g is None
    assert made.said() == [("weight-odd", "a")]
    made.weigh("a")
    made.run(300.0)
    assert made.state("a").status == "done"  # the owner has said so


def test_a_lifted_piece_keeps_its_weight_and_comes_back() -> None:
    made = stand()
    before_g = made.state("a").weight_g
    made.off("a")
    made.run(120.0)
    assert made.said() == [("lifted", "a")]
    assert made.state("a").weight_g == pytest.approx(before_g, abs=0.5)
    assert made.state("a").status == "drying"
    made.back("a", "hook-1")
    made.run(120.0)
    assert made.said()[1:] == [("put-back", "a")]
    made.run(3600.0)
    assert made.wrong_g("a") == pytest.approx(0.0, abs=0.5)


def test_a_piece_that_stays_off_is_asked_about_once() -> None:
    made = stand()
    made.off("a")
    made.run(3.0 * 3600.0)
    assert made.said() == [("lifted", "a"), ("still-off", "a")]


def test_pieces_hung_back_on_each_others_hooks_are_recognised() -> None:
    made = stand()
    made.off("a", "b")
    made.run(120.0)
    made.back("a", "hook-2")
    made.back("b", "hook-1")
    made.run(600.0)
    assert made.state("a").piece.scale == "hook-2"
    assert made.state("b").piece.scale == "hook-1"
    assert "swapped" in [kind for kind, _ in made.said()]
    made.run(3600.0)
    assert made.wrong_g("a") == pytest.approx(0.0, abs=1.0)
    assert made.wrong_g("b") == pytest.approx(0.0, abs=1.0)


def test_pieces_exchanged_in_one_moment_are_recognised() -> None:
    made = stand()
    made.back("a", "hook-2")
    made.back("b", "hook-1")
    made.run(1800.0)
    assert made.state("a").piece.scale == "hook-2"
    made.run(3600.0)
    assert made.wrong_g("a") == pytest.approx(0.0, abs=1.0)
    assert made.wrong_g("b") == pytest.approx(0.0, abs=1.0)
    assert made.state("a").status == made.state("b").status == "drying"


def test_a_touched_piece_is_not_done_and_the_owner_is_asked() -> None:
    """Something holds 400 g of it up: 45 % less, which drying did not do."""
    made = stand()
    made.extra_g["hook-1"] = -400.0
    made.run(3600.0)
    assert made.said() == [("weight-jumped", "a")]
    assert made.state("a").status == "drying"
    assert made.wrong_g("a") == pytest.approx(0.0, abs=1.5)
    made.extra_g["hook-1"] = 0.0
    made.run(3600.0)
    assert made.wrong_g("a") == pytest.approx(0.0, abs=1.5)


def test_a_weighing_by_hand_sets_the_cell_right() -> None:
    made = stand()
    made.extra_g["hook-1"] = 6.0  # its tare is wrong by so much
    made.run(1800.0)
    made.weigh("a")
    made.run(3600.0)
    assert made.wrong_g("a") == pytest.approx(0.0, abs=1.2)


def test_something_else_on_the_hook_is_asked_about_and_the_answer_is_taken() -> None:
    """A piece that was cut while it was off: 100 g less."""
    made = stand()
    made.off("a")
    made.run(120.0)
    made.true_g["a"] -= 100.0
    made.back("a", "hook-1")
    made.run(300.0)
    assert made.said()[-1][0] == "which-back"
    assert "dryward weigh a" not in made.events[-1].text
    made.weigh("a")
    made.run(600.0)
    assert made.state("a").hung
    assert made.wrong_g("a") == pytest.approx(0.0, abs=1.2)


def test_done_comes_when_the_piece_is_there_and_says_when_it_crossed() -> None:
    made = stand(rate=0.02)
    while made.state("a").status == "drying":
        made.run(60.0)
    over_g = made.true_g["a"] - made.state("a").piece.target_g
    assert -2.0 < over_g < 0.3
    crossed_s = made.state("a").crossed_s
    assert crossed_s is not None
    late_s = -over_g / (0.02 * made.true_g["a"]) * 3600.0
    assert crossed_s == pytest.approx(made.now - late_s, abs=120.0)


def test_on_the_twin_done_is_never_early_and_at_most_a_quarter_of_an_hour_late() -> None:
    """Noise, fan, knocks, creep, drift, doors and lifts (python -m tests.bench.weighing cells is the full size).

    Early counts from 0.1 g on, which is the resolution of the simulated cells.
    """
    ends = Ends()
    for seed in (1, 2):
        cells_batch(seed, ends, sensing=Sensing(), known_drift=True, count=3)
    assert len(ends.over_g) == 6
    assert max(ends.over_g) <= 0.1
    assert max(ends.late_min) <= 15.0
    assert set(ends.said) <= {"lifted", "put-back", "still-off"}
