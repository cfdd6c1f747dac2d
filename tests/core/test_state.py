"""The state: there and back through JSON without loss, taken over after a restart, and what it has used."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dryward.core.chamber import Output
from dryward.core.inputs import Hold, Weigh
from dryward.core.layout import lay_out
from dryward.core.state import State, Tally, adopt, energy_j, first_state, operations
from dryward.record.checkpoint import from_json, to_json
from tests.core.bench_chamber import AIR, HUMIDITY, LIMIT, Bench, chamber, piece


def after_a_while(temperatures: list[float | None]) -> Bench:
    bench = Bench.of(chamber(sensors=(AIR, LIMIT, HUMIDITY)))
    bench.begin(piece("a"), piece("b", 812.5))
    for air_c in temperatures:
        bench.turn(air_c, readings=(("limit", air_c), ("rh", 31.7)))
    return bench


@given(st.lists(st.one_of(st.none(), st.floats(15.0, 25.0)), max_size=30))
def test_a_state_survives_json_without_loss(temperatures: list[float | None]) -> None:
    bench = after_a_while(temperatures)
    bench.ask(Weigh(piece="b", weight_g=700.1), 22.0)
    assert from_json(State, to_json(bench.state)) == bench.state


def test_a_tripped_state_survives_json() -> None:
    bench = after_a_while([22.0] * 3)
    bench.turns(70, None)
    assert bench.state.run.phase == "held"
    assert from_json(State, to_json(bench.state)) == bench.state


def test_after_a_restart_no_reading_is_known_and_every_output_is_off() -> None:
    bench = after_a_while([22.0] * 5)
    after = adopt(bench.layout, bench.state)
    assert after.on == frozenset()
    assert all(s.value is None for s in after.sensors)
    assert after.run == bench.state.run
    assert after.pieces == bench.state.pieces
    assert after.alarms == bench.state.alarms


def test_wear_is_kept_by_name_when_outputs_change() -> None:
    bench = Bench.of()
    worn = replace(bench.state, tallies=(Tally("heater", 100.0, 7), Tally("fan", 50.0, 2), Tally("contactor")))
    other = lay_out(chamber(outputs=("vent", "fan", "heater")))
    after = adopt(other, worn)
    assert [(t.name, t.operations) for t in after.tallies] == [("vent", 0), ("fan", 2), ("heater", 7)]


def test_energy_is_the_rating_plate_times_the_time_on() -> None:
    """900 W for 10 s: 9000 J."""
    bench = Bench.of()
    bench.begin()
    bench.turns(9, 22.0)
    bench.ask(Hold(), 22.0)
    assert energy_j(bench.layout, bench.state) == pytest.approx(9000.0)
    assert operations(bench.state)["heater"] == 1


def test_a_new_run_counts_from_its_own_start() -> None:
    bench = Bench.of()
    bench.state = replace(bench.state, tallies=(Tally("heater", 1000.0, 40), Tally("fan"), Tally("contactor")))
    bench.begin()
    assert energy_j(bench.layout, bench.state) == 0.0
    assert operations(bench.state)["heater"] == 1


def test_a_chamber_begins_idle() -> None:
    layout = lay_out(replace(chamber(), outputs=(Output(name="lamp"),)))
    state = first_state(layout, 5.0)
    assert state.run.phase == "idle"
    assert state.now == 5.0
    assert [t.name for t in state.tallies] == ["lamp"]
