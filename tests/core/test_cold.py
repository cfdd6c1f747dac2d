"""Cooler, humidifier, dehumidifier, vent: bands, shortest times, schedules, and that none works against another."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import psychrolib
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dryward.core.chamber import Chamber, Control, Output
from dryward.core.cold import NO_COLD, ColdState, Switch, cold, dew_point_c, turn

ALL = frozenset({"heater", "fan", "cooler", "humidifier", "dehumidifier", "vent"})
COMPRESSOR = Output(name="cooler", min_on_s=180.0, min_off_s=300.0)
BOX = Chamber(name="cabinet", sensors=(), outputs=(COMPRESSOR, Output(name="humidifier"), Output(name="dehumidifier"), Output(name="vent")))
LONG_OFF = Switch(False, -1e6)
RESTED = ColdState(LONG_OFF, LONG_OFF, LONG_OFF, LONG_OFF)


def tick(state: ColdState = RESTED, *, chamber: Chamber = BOX, has: frozenset[str] = ALL, now: float = 0.0, **given: Any) -> ColdState:
    """One tick in a cabinet at 13 degC and 78 %RH in a room at 20, unless told otherwise."""
    asked: dict[str, Any] = {
        "setpoint_c": 13.0, "rh_set_pct": 78.0, "vent": "by-humidity", "heating": False, "air_c": 13.0, "rh_pct": 78.0,
        "ambient_c": 20.0, "room_dew_c": None, "door_open": False,
    }  # fmt: skip
    return cold(chamber, state, **(asked | given), has=has, now=now)


def test_the_cooler_starts_above_its_band_and_stops_at_the_setpoint() -> None:
    state = tick(air_c=13.7)
    assert not state.cooler.on
    state = tick(state, air_c=13.9)
    assert state.cooler.on
    assert tick(state, air_c=13.1, now=1000.0).cooler.on
    assert not tick(state, air_c=12.9, now=1000.0).cooler.on


def test_a_compressor_whose_past_is_unknown_rests_first() -> None:
    """After a power cut nobody knows when it last ran."""
    state, now = NO_COLD, 50.0
    while not state.cooler.on:
        state = tick(state, air_c=20.0, now=now)
        now += 1.0
    assert now == pytest.approx(50.0 + 300.0, abs=2.0)


def test_neither_heat_nor_defrosting_nor_an_open_door_lets_it_start() -> None:
    pauses = replace(BOX, control=Control(defrost_every_s=21600.0, defrost_s=1200.0))
    assert not tick(air_c=16.0, heating=True).cooler.on
    assert not tick(air_c=16.0, door_open=True).cooler.on
    assert not tick(air_c=16.0, chamber=pauses, now=21000.0).cooler.on
    assert tick(air_c=16.0, chamber=pauses, now=20000.0).cooler.on


def test_an_open_door_does_not_stop_a_running_compressor() -> None:
    """Its rest would cost more cold than the door."""
    assert tick(replace(RESTED, cooler=Switch(True, -1000.0)), air_c=16.0, door_open=True).cooler.on


@settings(max_examples=150, deadline=None)
@given(
    steps=st.lists(
        st.tuples(
            st.floats(5.0, 25.0) | st.none(), st.booleans(), st.booleans(), st.sampled_from([0.5, 1.0, 60.0, 250.0]), st.sampled_from([13.0, None]),
        ),
        max_size=80,
    ),
    history=st.sampled_from([NO_COLD, RESTED]),
)  # fmt: skip
def test_a_compressor_never_runs_or_rests_too_short(steps: list[tuple[float | None, bool, bool, float, float | None]], history: ColdState) -> None:
    """Whatever readings, doors, heat and demands come; the times of its plate are kept."""
    state, now = history, 0.0
    turned_s: float | None = 0.0 if history is NO_COLD else None
    on = False
    for air_c, door, heating, passes_s, setpoint_c in steps:
        now += passes_s
        state = tick(state, air_c=air_c, door_open=door, heating=heating, setpoint_c=setpoint_c, now=now)
        if state.cooler.on is not on:
            if turned_s is not None:
                assert now - turned_s >= (300.0 if state.cooler.on else 180.0)
            on, turned_s = state.cooler.on, now


def test_humidity_is_raised_and_lowered_outside_its_band_only() -> None:
    low, high = tick(rh_pct=74.5), tick(rh_pct=81.5)
    assert (low.humidifier.on, low.dehumidifier.on, low.vent.on) == (True, False, False)
    assert (high.humidifier.on, high.dehumidifier.on, high.vent.on) == (False, True, True)
    assert replace(tick(rh_pct=76.0), surface=None) == RESTED
    assert tick(low, rh_pct=77.0).humidifier.on
    assert not tick(low, rh_pct=78.1).humidifier.on


@settings(max_examples=100, deadline=None)
@given(st.lists(st.tuples(st.floats(0.0, 100.0) | st.none(), st.floats(-5.0, 40.0) | st.none(), st.booleans()), max_size=60))
def test_moistening_and_drying_never_go_together(steps: list[tuple[float | None, float | None, bool]]) -> None:
    state = NO_COLD
    for now, (rh_pct, air_c, door) in enumerate(steps):
        state = tick(state, rh_pct=rh_pct, air_c=air_c, door_open=door, now=float(now))
        assert not (state.humidifier.on and state.dehumidifier.on)


def test_without_a_humidity_reading_nothing_is_moistened_or_dried_and_the_vent_stays() -> None:
    open_vent = replace(RESTED, humidifier=Switch(True, -10.0), vent=Switch(True, -10.0))
    state = tick(open_vent, rh_pct=None)
    assert (state.humidifier.on, state.dehumidifier.on, state.vent.on) == (False, False, True)


def test_nothing_is_moistened_into_an_open_door() -> None:
    assert not tick(rh_pct=60.0, door_open=True).humidifier.on


def test_moistening_stops_before_dew_falls() -> None:
    """Pieces at 8 degC hang in air that has warmed to 13 degC: at 70 %RH its dew point (7.7 degC) reaches their surface."""
    state = RESTED
    for minute in range(1200):
        state = tick(state, air_c=8.0, rh_pct=70.0, setpoint_c=8.0, rh_set_pct=85.0, now=60.0 * minute)
    assert state.humidifier.on
    state = tick(state, air_c=13.0, rh_pct=70.0, rh_set_pct=85.0, now=72_001.0)
    assert not state.humidifier.on
    assert state.dehumidifier.on


def test_a_cold_room_makes_the_walls_the_coldest_surface() -> None:
    """At 13 degC and 88 %RH the dew point is 11.1 degC: well below the pieces, not below a wall with the room at 0 degC."""
    assert tick(rh_pct=88.0, rh_set_pct=95.0).humidifier.on
    assert not tick(rh_pct=88.0, rh_set_pct=95.0, ambient_c=0.0).humidifier.on


@pytest.mark.parametrize(
    ("vent", "rh_set_pct", "has", "opens"),
    [("open", None, ALL, True), ("shut", 50.0, ALL, False), ("by-humidity", None, ALL, False), ("by-humidity", None, frozenset({"vent"}), True)],
)
def test_the_vent_does_as_the_step_says(vent: str, rh_set_pct: float | None, has: frozenset[str], opens: bool) -> None:
    """By humidity without a humidity to hold: a hot dryer lets its moisture out, a cabinet keeps its cold in."""
    assert tick(vent=vent, rh_set_pct=rh_set_pct, has=has).vent.on is opens


def test_the_air_is_changed_by_the_clock() -> None:
    airs = replace(BOX, control=Control(airing_every_s=21600.0, airing_s=180.0))
    assert not tick(chamber=airs, now=1000.0).vent.on
    assert tick(chamber=airs, now=21500.0, rh_pct=70.0).vent.on
    assert not tick(chamber=airs, now=21500.0, rh_pct=70.0).humidifier.on
    assert not tick(chamber=airs, now=21500.0, vent="shut").vent.on


def test_room_air_that_would_leave_dew_stays_outside() -> None:
    assert tick(vent="open", room_dew_c=5.0).vent.on
    assert not tick(vent="open", room_dew_c=17.0).vent.on


def test_what_the_chamber_has_not_is_never_switched() -> None:
    assert tick(has=frozenset({"heater", "fan"}), air_c=30.0, rh_pct=20.0) is RESTED


def test_a_switch_waits_for_its_shortest_time() -> None:
    running = Switch(True, 100.0)
    assert turn(BOX, "cooler", running, want=False, now=279.0) is running
    assert turn(BOX, "cooler", running, want=False, now=280.0) == Switch(False, 280.0)


@pytest.mark.parametrize("air_c", [0.0, 5.0, 13.0, 20.0, 35.0])
@pytest.mark.parametrize("rh_pct", [40.0, 60.0, 78.0, 95.0])
def test_the_dew_point_is_that_of_psychrolib(air_c: float, rh_pct: float) -> None:
    """ASHRAE's equations as psychrolib has them; above freezing, where a cabinet works."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    expected = psychrolib.GetTDewPointFromRelHum(air_c, rh_pct / 100.0)
    if expected > 0.0:
        assert dew_point_c(air_c, rh_pct) == pytest.approx(expected, abs=0.08)
