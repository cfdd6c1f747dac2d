"""The chamber's defaults are those of the fault contract, and every option says how to choose it."""

from __future__ import annotations

from dataclasses import fields
from typing import get_type_hints

import pytest
from annotated_types import doc

from dryward.core import chamber as c
from dryward.core import program as p


def test_the_defaults_are_the_contract() -> None:
    """The fault contract's own figures (F4, F6-F17), kept in DEVELOPERS.md."""
    limits = c.Limits()
    assert (limits.heat_stale_s, limits.trip_stale_s, limits.jump_k) == (10.0, 60.0, 5.0)
    assert (limits.stuck_s, limits.stuck_k) == (600.0, 0.1)
    assert (limits.response_s, limits.response_k, limits.no_response_power_s) == (120.0, 2.0, 300.0)
    assert (limits.below_band_k, limits.below_band_ks) == (5.0, 600.0)
    assert (limits.over_setpoint_k, limits.over_setpoint_s, limits.over_setpoint_trip_s) == (5.0, 30.0, 180.0)
    assert (limits.over_top_step_k, limits.max_air_c) == (8.0, 90.0)
    assert (limits.off_rise_k, limits.off_rise_s) == (2.0, 60.0)
    assert (limits.reversed_k, limits.reversed_s) == (3.0, 180.0)
    assert (limits.disagree_k, limits.disagree_s) == (8.0, 60.0)
    assert (limits.outage_go_on_s, limits.outage_ramp_s) == (300.0, 3600.0)
    assert not limits.commissioning


@pytest.mark.parametrize(
    "cls", [c.Sensor, c.Output, c.Scale, c.Limits, c.Plant, c.Control, c.Chamber, p.Step, p.Ends, p.AtEnd, p.Piece]
)
def test_every_option_says_how_to_choose_it(cls: type) -> None:
    hints = get_type_hints(cls, include_extras=True)
    structure = {"name", "steps", "ends", "sensors", "outputs", "scales", "limits", "control", "at_end"}
    for option in fields(cls):
        if option.name in structure:
            continue
        notes = [n for n in getattr(hints[option.name], "__metadata__", ()) if isinstance(n, doc)]
        assert notes, f"{cls.__name__}.{option.name} has no word on how to choose it"
        assert len(notes[0].documentation) > 20
