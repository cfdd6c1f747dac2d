"""A row of the table of alarms says by its effect whether it latches."""

from __future__ import annotations

import pytest

from dryward.core.fault import Effect, Fault


@pytest.mark.parametrize(("effect", "trips"), [("tell", False), ("trip", True), ("abort", True)])
def test_everything_but_mere_telling_latches(effect: Effect, trips: bool) -> None:
    fault = Fault(key="k", row="", effect=effect, cause="c", happened="H.", meaning="M.", advice="A.")
    assert fault.trips is trips
