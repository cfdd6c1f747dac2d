"""What the broker has been shown: only changes, not too often, everything again after a while and after a new connection."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from dryward.doors.mqtt.board import Board


def test_a_topic_is_told_once_and_again_only_when_it_changes() -> None:
    board = Board()
    board.want("a", "1")
    assert board.next(9, 0.0) == [("a", "1")]
    board.want("a", "1")
    assert board.next(9, 1.0) == []
    board.want("a", "2")
    board.want("a", "3")
    assert board.next(9, 2.0) == [("a", "3")]


def test_a_change_there_and_back_is_not_told() -> None:
    board = Board()
    board.want("a", "1")
    board.next(9, 0.0)
    board.want("a", "2")
    board.want("a", "1")
    assert board.next(9, 1.0) == []


def test_a_restless_topic_is_told_at_its_pace_and_its_last_value_is_not_lost() -> None:
    board = Board()
    told = []
    for second in range(100):
        board.want("a", str(second), 30.0)
        told += board.next(9, float(second))
    assert [payload for _, payload in told] == ["0", "30", "60", "90"]
    assert board.next(9, 120.0) == [("a", "99")]


def test_no_more_is_told_at_once_than_there_is_room_and_nothing_is_forgotten() -> None:
    board = Board()
    for n in range(5):
        board.want(str(n), "x")
    assert [t for t, _ in board.next(2, 0.0)] == ["0", "1"]
    assert board.next(0, 0.0) == []
    assert [t for t, _ in board.next(9, 0.0)] == ["2", "3", "4"]


def test_what_is_no_longer_known_goes_at_once_however_restless_it_was() -> None:
    board = Board()
    board.want("a", "1", 30.0)
    board.next(9, 0.0)
    board.want("a", "", 30.0)
    assert board.next(9, 1.0) == [("a", "")]


def test_topics_that_are_no_longer_named_are_cleared() -> None:
    board = Board()
    board.want("a", "1")
    board.want("b", "1")
    board.next(9, 0.0)
    board.keep_only({"b"})
    assert board.next(9, 1.0) == [("a", "")]
    assert board.next(9, 2.0) == []


def test_what_is_found_on_the_broker_from_an_earlier_life_is_cleared_or_put_right() -> None:
    board = Board()
    board.want("mine", "1")
    board.next(9, 0.0)
    board.found("old")
    board.found("mine")
    assert sorted(board.next(9, 1.0)) == [("mine", "1"), ("old", "")]


def test_everything_that_is_there_is_told_again_after_a_while() -> None:
    board = Board(refresh_s=60.0)
    board.want("a", "1", 1000.0)
    board.want("gone", "1")
    board.next(9, 0.0)
    board.want("gone", "")
    board.next(9, 1.0)
    assert board.next(9, 59.0) == []
    assert board.next(9, 60.0) == [("a", "1")]
    assert board.next(9, 61.0) == []


@given(st.lists(st.tuples(st.sampled_from("abc"), st.sampled_from(["", "1", "2"]), st.integers(0, 2), st.booleans())))
def test_in_the_end_the_broker_holds_what_it_should(steps: list[tuple[str, str, int, bool]]) -> None:
    """Against the plainest model: a dictionary that takes every wish at once."""
    board, wanted, shown = Board(), dict[str, str](), dict[str, str]()
    for topic, payload, room, found in steps:
        if found:
            shown[topic] = "left by somebody"
            board.found(topic)
            wanted.setdefault(topic, "")
        else:
            board.want(topic, payload, 5.0)
            wanted[topic] = payload
        shown.update(board.next(room, 0.0))
    shown.update(board.next(99, 10.0))
    assert {t: p for t, p in shown.items() if p} == {t: p for t, p in wanted.items() if p}
