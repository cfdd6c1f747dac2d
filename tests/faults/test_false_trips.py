"""Six hundred healthy hours without a trip; ten thousand by ``python -m tests.faults.false_trips``."""

from __future__ import annotations

import pytest

from tests.faults.false_trips import count
from tests.faults.healthy import live, story
from tests.faults.stand import Model

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


@pytest.mark.parametrize(
    ("model", "seed"),
    [("overpowered", 25), ("overpowered", 103), ("overpowered", 184), ("overpowered", 232), ("slow-box", 83), ("slow-box", 78), ("dryer", 1011)],
)  # fmt: skip
def test_the_hardest_stories_found_so_far_do_not_trip(model: Model, seed: int) -> None:
    """Each tripped once: a rise after a door, a reading lost in a steep rise, strong mains, a door without a switch."""
    assert live(story(model, seed, 10.0)).trips == ()


def test_a_story_is_the_same_again() -> None:
    assert live(story("small-fan-box", 7, 2.0)) == live(story("small-fan-box", 7, 2.0))
