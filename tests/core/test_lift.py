"""Which piece was it: named when certain, asked about when two are alike, nobody when none fits."""

from __future__ import annotations

import random

from hypothesis import given
from hypothesis import strategies as st

from dryward.core.lift import SURE, Guess, which


def lifts(*weights: float, sigma_g: float = 3.0) -> list[Guess]:
    return [Guess((f"p{k}",), (), -w, sigma_g) for k, w in enumerate(weights)]


def test_a_piece_whose_weight_fits_alone_is_named() -> None:
    found = which(lifts(700.0, 760.0, 820.0), -762.0, sigma_g=0.5)
    assert found.sure is not None
    assert found.sure.off == ("p1",)


def test_of_two_that_are_alike_none_is_named_and_both_are_asked_about() -> None:
    found = which(lifts(700.0, 704.0, 820.0), -702.0, sigma_g=0.5)
    assert found.sure is None
    assert {g.off for g in found.likely} == {("p0",), ("p1",)}


def test_what_fits_nobody_is_nobody() -> None:
    assert which(lifts(700.0, 760.0), -300.0, sigma_g=0.5) == (None, ())


def test_a_guess_that_is_more_likely_beforehand_wins_over_one_as_heavy() -> None:
    out = Guess(("pulled",), (), -700.0, 3.0, 1.0)
    other = Guess(("other",), (), -701.0, 3.0, 0.01)
    found = which([out, other], -700.5, sigma_g=0.5)
    assert found.sure is out


@given(st.floats(100.0, 2000.0), st.floats(0.1, 20.0), st.floats(-3.0, 3.0))
def test_two_equal_guesses_are_never_decided_by_chance(weight_g: float, sigma_g: float, off: float) -> None:
    found = which(lifts(weight_g, weight_g, sigma_g=sigma_g), -(weight_g + off * sigma_g), sigma_g=0.1)
    assert found.sure is None
    assert len(found.likely) == 2


def test_those_that_are_named_are_named_rightly_as_often_as_claimed() -> None:
    """20 000 lifts drawn from the very distributions that are assumed: Bayes' rule must keep its promise."""
    chance = random.Random(7)
    named = right = 0
    for _ in range(20_000):
        believed = [chance.uniform(500.0, 560.0) for _ in range(4)]
        lifted = chance.randrange(4)
        seen_g = chance.gauss(believed[lifted], 4.0)
        found = which(lifts(*believed, sigma_g=4.0), -seen_g, sigma_g=0.01)
        if found.sure is not None:
            named += 1
            right += found.sure.off == (f"p{lifted}",)
    assert named > 2000
    assert right / named >= SURE
