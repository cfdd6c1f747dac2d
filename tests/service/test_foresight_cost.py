"""Looking ahead costs the loop nothing to speak of, and a long log costs little more than a short one."""

from __future__ import annotations

from tests.bench.foresight import rows, tick


def test_a_tick_is_at_most_two_milliseconds_longer_beside_the_forecaster() -> None:
    """At most 2 ms in the median, though the child works without a pause here."""
    cost = tick(blocks=3, ticks=60)
    assert cost.forecasts >= 1
    assert cost.added_ms <= 2.0


def test_ten_thousand_weighings_cost_at_most_ten_times_a_thousand() -> None:
    assert rows(10_000) <= 10.0 * rows(1000)
