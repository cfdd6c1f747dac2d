"""A comparison of runs without weights still says what it knows."""

from __future__ import annotations

from dryward.record.compare import Compared
from dryward.record.compare_text import as_text


def test_what_is_not_known_is_a_dash() -> None:
    bare = Compared(
        run_id="r1", verdict="open", program="p", steps=("a: 50 degC, until own target",), hours=1.0, pieces=0, green_g=0.0, air_mean_c=None, room_mean_c=None,
        room_rh_mean_pct=None, out_of_band_min=0.0, energy_kwh=None, water_g=None, kwh_per_kg=None, rates=(), loss_pct=(None,),
    )  # fmt: skip
    text = as_text((bare, bare))
    assert "No pieces." in text
    assert "kWh per kg water - -" in " ".join(text.split())
    assert "Loss of the whole load" not in text
