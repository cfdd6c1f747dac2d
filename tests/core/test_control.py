"""What control asks for, whatever it is told: only what there is, never heat with cold, nothing without a demand."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dryward.core.chamber import Chamber, Control, Output, Plant
from dryward.core.control import Air, ControlState, Demand, cut, decide
from dryward.core.switch import Switch
from tests.bench.plants import REFERENCE, ROOM_C, Box, Thermometer

NAMES = ("heater", "fan", "vent", "cooler", "humidifier", "dehumidifier")
HOT = frozenset({"heater", "fan", "vent"})
EVERYTHING = frozenset(NAMES)


def box(*names: str, control: Control | None = None, period_s: float = 1.0) -> Chamber:
    outputs = [Output(name=n) for n in names or NAMES if n not in ("cooler", "heater")]  # type: ignore[arg-type]
    outputs += [
        Output(name="cooler", min_on_s=180.0, min_off_s=300.0),
        Output(name="heater", min_on_s=5.0, min_off_s=7.0),
    ]
    return Chamber(name="bench", sensors=(), outputs=tuple(outputs), control=control or Control(), period_s=period_s)


BOX = box()
airs = st.builds(
    Air, air_c=st.none() | st.floats(-20.0, 130.0), rh_pct=st.none() | st.floats(0.0, 100.0), ambient_c=st.none() | st.floats(-20.0, 45.0),
    ambient_rh_pct=st.none() | st.floats(0.0, 100.0), door_open=st.booleans(),
)  # fmt: skip
demands = st.none() | st.builds(
    Demand, air_c=st.none() | st.floats(0.0, 90.0), ramp_k_per_h=st.none() | st.floats(0.1, 600.0), rh_pct=st.none() | st.floats(10.0, 95.0),
    vent=st.sampled_from(["shut", "open", "by-humidity"]), circulate=st.booleans(),
)  # fmt: skip
controls = st.sampled_from([
    Control(), Control(plant=Plant(gain_k=198.0, time_constant_s=400.0, dead_time_s=15.0, lag_s=15.0)), Control(cycle_s=4.0, pace="tight"),
    Control(airing_every_s=600.0, defrost_every_s=900.0, defrost_s=300.0, stir_every_s=100.0, stir_s=20.0),
])  # fmt: skip


@settings(max_examples=200, deadline=None)
@given(
    story=st.lists(st.tuples(demands, airs, st.integers(1, 40)), max_size=25), control=controls, has=st.sets(st.sampled_from(NAMES)).map(frozenset),
    period_s=st.sampled_from([0.5, 1.0, 5.0]),
)  # fmt: skip
def test_whatever_comes_control_asks_within_its_bounds(
    story: list[tuple[Demand | None, Air, int]], control: Control, has: frozenset[str], period_s: float
) -> None:
    """Only outputs there are; no heat with cold; duty 0..1; heater and compressor times; no heat blind, in an open door or unasked."""
    chamber, state, now = box(control=control, period_s=period_s), ControlState(), 1000.0
    turned: dict[str, float] = {}
    before: frozenset[str] = frozenset()
    for demand, air, ticks in story:
        for _ in range(ticks):
            on, state = decide(chamber, state, demand, air, has, now)
            assert on <= has
            assert not {"heater", "cooler"} <= on
            assert not {"humidifier", "dehumidifier"} <= on
            assert 0.0 <= state.duty <= 1.0
            if demand is None or demand.air_c is None or air.air_c is None or air.door_open:
                assert "heater" not in on
            if "heater" in on and "fan" in has:
                assert "fan" in on
            for name, rest_s, run_s in (("heater", 7.0, 0.0), ("cooler", 300.0, 180.0)):
                if (name in on) is not (name in before):
                    assert now - turned.get(name, -1e9) >= (rest_s if name in on else run_s)
                    turned[name] = now
            before = on
            now += period_s


def test_nothing_asked_nothing_on_but_the_fan_runs_after_heat() -> None:
    state, now = ControlState(), 0.0
    for _ in range(60):
        on, state = decide(BOX, state, Demand(air_c=80.0), Air(air_c=30.0), HOT, now)
        now += 1.0
    assert on == {"heater", "fan", "vent"}
    seen = []
    for _ in range(200):
        on, state = decide(BOX, state, None, Air(air_c=30.0), HOT, now)
        seen.append(on)
        now += 1.0
    assert seen[0] == seen[118] == {"fan"}
    assert seen[120] == seen[-1] == frozenset()
    assert (state.setpoint_c, state.duty) == (None, 0.0)


def test_a_compressor_finishes_its_shortest_run_when_the_program_stops() -> None:
    state, now, on = ControlState(), 0.0, frozenset[str]()
    while "cooler" not in on:
        on, state = decide(BOX, state, Demand(air_c=13.0), Air(air_c=18.0), EVERYTHING, now)
        now += 1.0
    started = now - 1.0
    while "cooler" in on:
        on, state = decide(BOX, state, None, Air(air_c=18.0), EVERYTHING, now)
        now += 1.0
    assert now - 1.0 - started == pytest.approx(180.0)


def test_what_the_guard_took_away_counts_as_switched_off_then() -> None:
    state, now, on = ControlState(), 0.0, frozenset[str]()
    while "cooler" not in on:
        on, state = decide(BOX, state, Demand(air_c=13.0), Air(air_c=18.0), EVERYTHING, now)
        now += 1.0
    state = cut(state, frozenset({"cooler", "heater"}), now)
    cut_at = now
    on = frozenset()
    while "cooler" not in on:
        on, state = decide(BOX, state, Demand(air_c=13.0), Air(air_c=18.0), EVERYTHING, now)
        now += 1.0
    assert now - 1.0 - cut_at == pytest.approx(300.0)


def test_cutting_what_is_off_changes_nothing() -> None:
    _, state = decide(BOX, ControlState(), None, Air(), EVERYTHING, 5.0)
    assert cut(state, EVERYTHING, 9.0) == state


def setpoints(
    air_c: float, goal_c: float, *, ramp_k_per_h: float, ticks: int, follows: bool = True
) -> list[float | None]:
    state, seen = ControlState(), []
    for tick in range(ticks):
        _, state = decide(
            BOX, state, Demand(air_c=goal_c, ramp_k_per_h=ramp_k_per_h), Air(air_c=air_c), HOT, float(tick)
        )
        seen.append(state.setpoint_c)
        if follows and state.setpoint_c is not None:
            air_c = state.setpoint_c
    return seen


@pytest.mark.parametrize(("air_c", "goal_c"), [(40.0, 50.0), (50.0, 40.0)])
def test_a_ramp_begins_at_the_air_and_moves_no_faster_than_asked(air_c: float, goal_c: float) -> None:
    """10 K at 20 K/h are half an hour."""
    seen = setpoints(air_c, goal_c, ramp_k_per_h=20.0, ticks=2000)
    assert seen[0] == air_c
    assert seen[900] == pytest.approx((air_c + goal_c) / 2, abs=0.01)
    assert seen[1799] != goal_c
    assert seen[1801] == goal_c


def test_a_ramp_waits_for_air_that_does_not_follow() -> None:
    assert setpoints(40.0, 60.0, ramp_k_per_h=60.0, ticks=3000, follows=False)[-1] == pytest.approx(44.0, abs=0.1)


def test_without_a_ramp_the_setpoint_is_the_goal_at_once() -> None:
    _, state = decide(BOX, ControlState(), Demand(air_c=70.0), Air(), HOT, 0.0)
    assert state.setpoint_c == 70.0


def test_the_last_room_temperature_stands_while_its_sensor_is_silent() -> None:
    _, state = decide(BOX, ControlState(), Demand(air_c=70.0), Air(air_c=40.0, ambient_c=27.0), HOT, 0.0)
    _, state = decide(BOX, state, Demand(air_c=70.0), Air(air_c=40.0), HOT, 1.0)
    assert state.ambient_c == 27.0


def test_a_cabinet_is_heated_less_while_its_cooler_is_in_use() -> None:
    """Half a kelvin below the setpoint heat begins, two kelvin for an hour after cooling: undershoot is left to the room."""

    def heats(air_c: float, now: float) -> bool:
        state = ControlState(cold=replace(ControlState().cold, cooler=Switch(False, 1000.0, True)))
        on, _ = decide(BOX, state, Demand(air_c=13.0), Air(air_c=air_c, ambient_c=4.0), EVERYTHING, now)
        return "heater" in on

    assert not heats(11.5, 2000.0)
    assert heats(9.0, 2000.0)
    assert heats(11.5, 5000.0)


def test_the_fan_runs_on_while_a_stopped_coil_gives_its_water_back() -> None:
    stirs = box(control=Control(stir_every_s=1800.0, stir_s=300.0))
    coil = replace(ControlState().cold, cooler=Switch(False, 2900.0, True))

    def fan(now: float, **demand: Any) -> bool:
        asked = Demand(air_c=13.0, vent="shut")._replace(**demand)
        on, _ = decide(stirs, ControlState(cold=coil), asked, Air(air_c=13.0), EVERYTHING, now)
        return "fan" in on

    assert fan(3000.0)
    assert not fan(3200.0)
    assert not fan(3000.0, circulate=False)


def test_the_fan_stirs_by_schedule_and_with_everything_that_is_switched() -> None:
    stirs = box(control=Control(stir_every_s=1800.0, stir_s=300.0))
    quiet = Demand(air_c=13.0, vent="shut")
    still = Air(air_c=13.0)

    def fan(demand: Demand, air: Air, now: float) -> bool:
        _, state = decide(stirs, ControlState(), demand, air, EVERYTHING, now - 600.0)
        on, _ = decide(stirs, state, demand, air, EVERYTHING, now)
        return "fan" in on

    assert fan(quiet, still, 2000.0)
    assert not fan(quiet, still, 3000.0)
    assert fan(quiet, Air(air_c=18.0), 3000.0)
    assert not fan(quiet._replace(circulate=False), still, 2000.0)


def test_a_skipped_night_is_no_tick() -> None:
    """After a gap the loop goes on by one tick's worth, not by hours of integral."""
    figures = REFERENCE[0]
    body, sensor, state = Box(figures), Thermometer(seed=4), ControlState()
    for tick in range(4000):
        on, state = decide(
            BOX,
            state,
            Demand(air_c=80.0),
            Air(air_c=sensor.read(body.sensor_c, float(tick)), ambient_c=ROOM_C),
            HOT,
            float(tick),
        )
        body.step(on="heater" in on, dt_s=1.0, now=float(tick))
    duty = state.duty
    _, state = decide(BOX, state, Demand(air_c=80.0), Air(air_c=body.sensor_c, ambient_c=ROOM_C), HOT, 40_000.0)
    assert state.duty == pytest.approx(duty, abs=0.05)


def state_after(chamber: Chamber, **given: Any) -> ControlState:
    return decide(chamber, ControlState(), Demand(**given), Air(air_c=30.0), HOT, 0.0)[1]


def test_the_state_says_what_is_held() -> None:
    state = state_after(BOX, air_c=55.0)
    assert (state.setpoint_c, state.duty, state.heat.phase) == (55.0, 1.0, "rise")
