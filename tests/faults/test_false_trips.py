"""Six hundred healthy hours without a trip; ten thousand by ``python -m tests.faults.false_trips``."""

from __future__ import annotations

import pytest

from tests.faults.false_trips import count
from tests.faults.healthy import live, story

HOURS = 600.0


def test_healthy_hours_never_trip(capsys: pytest.CaptureFixture[str]) -> None:
    """Cold starts, steps, ramps, holds, doors, mains +-20 %, 30 % failed reads, noise: the fault contract's false trips."""
    found = count(HOURS)
    with capsys.disabled():
        print(
            f"\n{found.hours:.0f} healthy hours, {found.doors} doors, {found.steps} steps: {len(found.trips)} false trips"
        )
    assert found.hours >= HOURS
    assert found.trips == ()
    assert found.doors > 50
    assert found.steps > 100


def test_a_story_is_the_same_again() -> None:
    assert live(story("small-fan-box", 7, 2.0)) == live(story("small-fan-box", 7, 2.0))
