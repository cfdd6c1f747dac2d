"""The cooler's hysteresis and times, and the cabinet as a whole: what is never switched, what never goes together."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dryward.core.chamber import Chamber, Control, Output
from dryward.core.cold import NO_COLD, ColdState, cold
from dryward.core.switch import Switch
from tests.bench.cabinet import held, near, settled, shipped

ALL = frozenset({"heater", "fan", "cooler", "humidifier", "dehumidifier", "vent"})
COMPRESSOR = Output(name="cooler", min_on_s=180.0, min_off_s=300.0)
BOX = Chamber(
    name="cabinet",
    sensors=(),
    outputs=(COMPRESSOR, Output(name="humidifier"), Output(name="dehumidifier"), Output(name="vent")),
)
LONG_OFF = Switch(False, -1e6)
RESTED = ColdState(LONG_OFF, LONG_OFF, LONG_OFF, LONG_OFF)


def tick(
    state: ColdState = RESTED, *, chamber: Chamber = BOX, has: frozenset[str] = ALL, now: float = 0.0, **given: Any
) -> ColdState:
    """One tick in a cabinet at 13 degC and 78 %RH in a room at 20, unless told otherwise."""
    asked: dict[str, Any] = {
        "setpoint_c": 13.0, "rh_set_pct": 78.0, "vent": "by-humidity", "heated_s": None, "air_c": 13.0, "rh_pct": 78.0,
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
    assert not tick(air_c=16.0, heated_s=0.0).cooler.on
    assert not tick(air_c=16.0, door_open=True).cooler.on
    assert not tick(air_c=16.0, chamber=pauses, now=21000.0).cooler.on
    assert tick(air_c=16.0, chamber=pauses, now=20000.0).cooler.on


def test_what_the_heater_has_overshot_is_left_to_the_room() -> None:
    assert not tick(air_c=15.0, heated_s=-1000.0).cooler.on
    assert tick(air_c=15.5, heated_s=-1000.0).cooler.on
    assert tick(air_c=15.0, heated_s=-3700.0).cooler.on


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
def test_a_compressor_never_runs_or_rests_too_short(
    steps: list[tuple[float | None, bool, bool, float, float | None]], history: ColdState
) -> None:
    """Whatever readings, doors, heat and demands come; the times of its plate are kept."""
    state, now = history, 0.0
    turned_s: float | None = None
    on = False
    for air_c, door, heating, passes_s, setpoint_c in steps:
        now += passes_s
        if turned_s is None and history is NO_COLD:
            turned_s = now  # its rest begins with the first tick
        state = tick(
            state, air_c=air_c, door_open=door, heated_s=now if heating else None, setpoint_c=setpoint_c, now=now
        )
        if state.cooler.on is not on:
            if turned_s is not None:
                assert now - turned_s >= (300.0 if state.cooler.on else 180.0)
            on, turned_s = state.cooler.on, now


@settings(max_examples=100, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.floats(0.0, 100.0) | st.none(),
            st.floats(-5.0, 40.0) | st.none(),
            st.booleans(),
            st.sampled_from([1.0, 70.0]),
        ),
        max_size=60,
    )
)
def test_moistening_and_drying_never_go_together(steps: list[tuple[float | None, float | None, bool, float]]) -> None:
    state, now = NO_COLD, 0.0
    for rh_pct, air_c, door, passes_s in steps:
        now += passes_s
        state = tick(state, rh_pct=rh_pct, air_c=air_c, door_open=door, now=now)
        assert not (state.humidifier.on and state.dehumidifier.on)


def test_dry_air_gets_a_puff_and_moist_air_is_dried() -> None:
    low, high = tick(rh_pct=74.5), tick(rh_pct=81.5)
    assert (low.humidifier.on, low.dehumidifier.on) == (True, False)
    assert (high.humidifier.on, high.dehumidifier.on) == (False, True)
    assert replace(tick(rh_pct=76.0), surface=None) == RESTED


def test_what_the_chamber_has_not_is_never_switched() -> None:
    assert tick(has=frozenset({"heater", "fan"}), air_c=30.0, rh_pct=20.0) is RESTED


@pytest.mark.parametrize("coil_w_k", [12.0, 8.4])
def test_a_cabinet_holds_its_air_in_a_room_that_cannot_dew_it(coil_w_k: float) -> None:
    """13 degC within 1 K, 78 %RH within 4 %; no dew, the compressor's times kept. Longer, and other rooms: tests.bench.cabinet."""
    chamber, options = shipped()
    options = options | {"room": {"air_c": 18.0, "rh_pct": 60.0, "day_swing_k": 3.0}, "cabinet": {"coil_w_k": coil_w_k}}
    seen = held(1.5, chamber=chamber, options=options)
    first = int(43_200.0 / chamber.period_s)
    assert near(seen.air[first:], 13.0, 1.0) > 0.99
    assert near(settled(seen, seen.air), 13.0, 1.0) == 1.0
    assert near(seen.rh[first:], 78.0, 4.0) > (0.98 if coil_w_k == 12.0 else 0.95)
    assert near(seen.rh[first:], 78.0, 4.0, mean_of=600) > 0.99
    assert (seen.too_short, seen.wet_minutes) == (0, set())
    assert seen.starts["cooler"] / 36.0 < 6.0
