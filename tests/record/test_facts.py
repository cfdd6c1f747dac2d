"""Ticks as wall time, also when the wall clock was set during the run."""

from __future__ import annotations

from tests.record.scene import UTC_S
from tests.record.test_review import facts


def test_wall_times_follow_the_clock_that_was_set_during_the_run() -> None:
    stepped = facts(anchors=((0, UTC_S - 3600.0), (5000, UTC_S + 5000.0)))
    assert stepped.utc(4999) == "2025-10-09T09:16:39.000Z"
    assert stepped.utc(5001) == "2025-10-09T10:16:41.000Z"


def test_a_tick_before_the_first_anchor_is_counted_back_from_it() -> None:
    assert facts(anchors=((5000, UTC_S + 5000.0),)).utc(4000) == "2025-10-09T10:00:00.000Z"


def test_without_any_anchor_the_start_of_the_run_is_used() -> None:
    assert facts(anchors=()).utc(160) == "2025-10-09T08:56:00.000Z"
