"""Each message of weighing says what happened, what it means for the meat, what to do, and how to answer."""

from __future__ import annotations

import pytest

from dryward.core import weigh_words as words
from dryward.core.commands import Event
from tests.core.bench_chamber import piece

ASKING = [
    words.which_lifted(("a", "b"), 700.0, "rack"),
    words.which_back(("a",), 700.0, "rack"),
    words.which_back((), 700.0, "rack"),
    words.jumped(piece("a", 900.0), -80.0, "hook"),
    words.cannot_be(piece("a", 900.0), 400.0, "hook"),
    words.sum_cannot_be(4000.0, 2400.0, "rack"),
    words.weigh_wanted("a", 580.0, 9.0, 585.0),
    words.rack_unsure("a", 2.1, "rack"),
]


@pytest.mark.parametrize("event", ASKING, ids=lambda e: str(e.kind))
def test_a_question_says_how_to_answer_it(event: Event) -> None:
    assert event.severity in ("notice", "warning")
    assert "dryward weigh" in event.advice
    assert event.meaning
    assert event.value is not None


def test_those_it_may_have_been_are_named() -> None:
    text = words.which_lifted(("a", "b", "c"), 700.4, "rack").text
    assert "700 g" in text
    assert "a, b or c" in text


@pytest.mark.parametrize(("change_g", "severity"), [(-80.0, "warning"), (6.0, "notice")])
def test_a_small_jump_is_worth_less_noise(change_g: float, severity: str) -> None:
    assert words.jumped(piece("a", 900.0), change_g, "hook").severity == severity


def test_a_slow_and_a_fast_piece_are_told_apart() -> None:
    assert "40 % of" in words.unlike("a", 0.4).text
    assert "2.2 times" in words.unlike("a", 2.2).text
    assert words.unlike("a", 0.4).meaning != words.unlike("a", 2.2).meaning


def test_back_names_who_is_back() -> None:
    assert words.back(("a",), 700.0, "rack").text.startswith("a hangs")
    assert words.back(("a", "b"), 1500.0, "rack").text.startswith("a and b hang ")
    assert words.back((), 700.0, "rack").text.startswith("What was lifted off hangs")
