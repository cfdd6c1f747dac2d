"""Energy, wear and the air's moisture in the status."""

from __future__ import annotations

from dataclasses import replace

import pytest

from dryward.core.inputs import Weigh
from dryward.core.state import energy_j
from dryward.service.upkeep import air_moisture, energy, relays
from tests.core.bench_chamber import Bench, piece
from tests.faults.stand import Fit, Stand


def test_energy_counts_per_kilogram_of_water_that_is_gone() -> None:
    bench = Bench.of()
    bench.begin(piece("a", 1000.0))
    bench.turns(60, 40.0)
    assert energy(bench.layout, bench.state)["kwh_per_kg_water"] is None
    bench.turn(40.0, asks=[Weigh(piece="a", weight_g=800.0)])
    told = energy(bench.layout, bench.state)
    assert told["water_g"] == 200.0
    assert told["kwh_per_kg_water"] == pytest.approx(energy_j(bench.layout, bench.state) / 3.6e6 / 0.2, abs=0.01)
    # No humidity sensor here: the water's temperature is taken to be the air's. 40 degC: 2405.98 kJ/kg (IAPWS-95).
    assert told["least_kwh_per_kg_water"] == pytest.approx(2405.98 / 3600.0, rel=0.004)


def test_a_relay_tells_what_it_has_left_after_an_hour() -> None:
    stand = Stand("small-fan-box", fit=Fit(), pieces=())
    outputs = tuple(
        replace(o, rated_operations=1000 if o.name == "heater" else 0) for o in stand.layout.chamber.outputs
    )
    layout = replace(stand.layout, chamber=replace(stand.layout.chamber, outputs=outputs))
    tallies = tuple(replace(t, operations=240 if t.name == "heater" else 0) for t in stand.state.tallies)
    begun = replace(stand.state, tallies=tallies, run=replace(stand.state.run, run_id="r", started_s=0.0), now=1800.0)
    told = relays(layout, begun)
    assert set(told) == {"heater"}
    assert (told["heater"]["used_pct"], told["heater"]["years_left"]) == (24.0, None)
    # 240 in a day, 760 left: 3.2 days.
    later = relays(layout, replace(begun, now=86_400.0))
    assert later["heater"]["years_left"] == pytest.approx(760.0 / 240.0 / 365.25, abs=0.006)


def test_the_airs_moisture_is_shown_where_it_is_known() -> None:
    stand = Stand("small-fan-box", pieces=())
    assert air_moisture(stand.layout, stand.state) is None
    index = stand.layout.humidity
    assert index is not None
    assert stand.layout.air is not None
    known = list(stand.state.sensors)
    known[stand.layout.air] = replace(known[stand.layout.air], value=65.0, quality="fresh")
    known[index] = replace(known[index], value=20.0, quality="fresh")
    told = air_moisture(stand.layout, replace(stand.state, sensors=tuple(known)))
    # 65 degC, 20 %RH: wet bulb 38.25 degC, 999 g/m2/h at 25 W/m2K, computed with CoolProp 8.0.0.
    assert told is not None
    assert told["wet_bulb_c"] == pytest.approx(38.25, abs=0.05)
    assert told["evaporation_g_per_m2_h"] == pytest.approx(999.0, rel=0.01)
    known[index] = replace(known[index], value=104.0)
    assert air_moisture(stand.layout, replace(stand.state, sensors=tuple(known))) is None
