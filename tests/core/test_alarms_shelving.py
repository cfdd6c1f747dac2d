"""Shelving: an alarm is silenced for a time, by its name, and never a trip (ISA-18.2)."""

from __future__ import annotations

import pytest

from dryward.core.alarms import LONGEST_SHELVE_H, UNSEEN, Condition
from tests.core.test_alarms import SLOW, TELL, TRIP, Panel


def test_a_shelved_alarm_is_silent_for_its_time_and_told_when_it_is_still_there_after_it() -> None:
    panel = Panel().tick(TELL)
    assert panel.shelve(TELL, 1.0) is None
    assert panel.phase(TELL) == "shelved"
    assert panel.phase(TELL) in UNSEEN
    assert panel.alarms[0].shelved_until_s == 1.0 + 3600.0
    panel.tick(TELL, seconds=3599)
    assert panel.phase(TELL) == "shelved"
    panel.tick(TELL)
    assert panel.alarms == ()
    panel.tick(TELL)
    assert panel.phase(TELL) == "active"
    assert panel.aloud == [(TELL, "alarm")] * 2


def test_a_shelved_alarm_whose_condition_is_gone_is_forgotten() -> None:
    panel = Panel().tick(TELL)
    panel.shelve(TELL, 0.01)
    panel.tick(seconds=40)
    assert panel.alarms == ()
    assert panel.aloud == [(TELL, "alarm")]


def test_a_cleared_or_seen_alarm_may_be_shelved_and_a_shelved_one_for_longer() -> None:
    panel = Panel().tick(TELL).tick(seconds=31)
    assert panel.phase(TELL) == "cleared"
    assert panel.shelve(TELL, 1.0) is None
    assert panel.shelve(TELL, 2.0) is None
    assert panel.alarms[0].shelved_until_s == panel.now + 7200.0


def test_only_the_named_alarm_is_shelved() -> None:
    panel = Panel().tick(TELL, "keeper-lost")
    panel.shelve(TELL, 1.0)
    assert panel.phase("keeper-lost") == "active"


@pytest.mark.parametrize("hours", [0.0, -1.0, LONGEST_SHELVE_H + 0.1])
def test_nothing_is_shelved_for_ever(hours: float) -> None:
    panel = Panel().tick(TELL)
    why = panel.shelve(TELL, hours)
    assert why is not None
    assert "12 h" in why
    assert panel.phase(TELL) == "active"
    assert Panel().tick(TELL).shelve(TELL, LONGEST_SHELVE_H) is None


def test_a_trip_cannot_be_shelved() -> None:
    panel = Panel().tick(TRIP)
    why = panel.shelve(TRIP, 1.0)
    assert why is not None
    assert "trip" in why
    assert panel.phase(TRIP) == "active"


def test_what_is_not_there_cannot_be_shelved() -> None:
    panel = Panel().tick(Condition(SLOW, "rh"))
    for key in (TELL, SLOW):
        why = panel.shelve(key, 1.0)
        assert why is not None
        assert f"no alarm {key}" in why
