"""Switched outputs: shortest times, what was lately on, schedules by the clock."""

from __future__ import annotations

import pytest

from dryward.core.chamber import Chamber, Output
from dryward.core.switch import OFF, Switch, allowed, cut, due, lately, turn

BOX = Chamber(
    name="b", sensors=(), outputs=(Output(name="fan"), Output(name="cooler", min_on_s=180.0, min_off_s=300.0))
)


def test_shortest_times_are_asked_of_the_right_output() -> None:
    assert not allowed(BOX, "cooler", True, 179.0)
    assert allowed(BOX, "cooler", True, 180.0)
    assert not allowed(BOX, "cooler", False, 299.0)
    assert allowed(BOX, "fan", False, 0.0)


def test_a_switch_waits_for_its_shortest_time() -> None:
    running = Switch(True, 100.0)
    assert turn(BOX, "cooler", running, want=False, now=279.0) is running
    assert turn(BOX, "cooler", running, want=False, now=280.0) == Switch(False, 280.0, True)


def test_an_output_of_unknown_past_rests_first() -> None:
    state = turn(BOX, "cooler", OFF, want=True, now=50.0)
    assert state == Switch(False, 50.0)
    assert not turn(BOX, "cooler", state, want=True, now=349.0).on
    assert turn(BOX, "cooler", state, want=True, now=350.0).on


def test_what_is_taken_away_is_off_from_then() -> None:
    assert cut(Switch(True, 10.0), 60.0) == Switch(False, 60.0, True)
    assert cut(OFF, 60.0) is OFF


def test_lately_means_on_or_just_off_but_not_just_begun() -> None:
    assert lately(Switch(True, 0.0), 10.0, 1e6)
    assert lately(Switch(False, 100.0, True), 10.0, 109.0)
    assert not lately(Switch(False, 100.0, True), 10.0, 110.0)
    assert not lately(Switch(False, 100.0), 10.0, 101.0)


@pytest.mark.parametrize(
    ("now", "on"), [(0.0, False), (3419.0, False), (3420.0, True), (3599.0, True), (3600.0, False), (7100.0, True)]
)
def test_a_schedule_comes_at_the_end_of_every_period(now: float, on: bool) -> None:
    assert due(3600.0, 180.0, now) is on


def test_a_schedule_of_nothing_never_comes() -> None:
    assert not any(due(0.0, 180.0, float(now)) for now in range(1000))
