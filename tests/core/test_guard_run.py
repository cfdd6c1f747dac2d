"""The limits of the fault contract for door, fan, contactor, bands, step and shell, each just below, at and just above."""

from __future__ import annotations

from dataclasses import replace

import pytest

from dryward.core.chamber import Limits
from dryward.core.guard import NOTHING_TOLD, GuardState, Told
from dryward.core.inputs import Notice
from dryward.core.program import AtEnd, Ends
from dryward.core.progress import HOUR_S, Run
from dryward.core.trust import SensorState
from tests.core.guard_scene import IDLE, NOW, a_run, a_step, known, look, near, told

RUN = a_run()
DWELL = Ends(dwell_h=2.0)


# --- F22: the door


@pytest.mark.parametrize(("open_s", "told_of"), [(299.75, False), (300.0, True), (360.0, True)])
def test_a_door_open_for_five_minutes_is_told_with_its_minutes(open_s: float, told_of: bool) -> None:
    verdict = look({"air": 60.0, "door": 1.0}, run=RUN, state=GuardState(door_open_since=NOW - open_s))
    assert ("door-open" in told(verdict)) is told_of
    if told_of:
        assert told(verdict)["door-open"].value == open_s / 60.0
    assert verdict.state.door_open_since == NOW - open_s


def test_the_five_minutes_begin_anew_with_each_opening() -> None:
    assert look({"air": 60.0, "door": 1.0}, run=RUN).state.door_open_since == NOW
    shut = look({"air": 60.0, "door": 0.0}, run=RUN, state=GuardState(door_open_since=0.0))
    assert shut.state.door_open_since is None
    assert not told(shut)


# --- F15: the fan


@pytest.mark.parametrize(("still_s", "trips"), [(9.75, False), (10.0, True), (10.25, True)])
def test_a_fan_may_stand_still_for_ten_seconds(still_s: float, trips: bool) -> None:
    state = GuardState(fan_still_since=NOW - still_s)
    verdict = look({"air": 60.0, "fan-turns": 0.0}, run=RUN, state=state, on=("fan",))
    assert ("fan-stopped" in told(verdict)) is trips
    assert verdict.no_heat == ("the fan stands still" if trips else "")
    assert verdict.state.fan_still_since == NOW - still_s
    if trips:
        assert told(verdict)["fan-stopped"].value == still_s


@pytest.mark.parametrize(("still_s", "heat"), [(9.75, True), (10.0, False)])
def test_a_fan_that_says_nothing_loses_the_heat_without_a_trip(still_s: float, heat: bool) -> None:
    state = GuardState(fan_still_since=NOW - still_s)
    verdict = look({"air": 60.0, "fan-turns": None}, run=RUN, state=state, on=("fan",))
    assert verdict.no_heat == ("" if heat else "nothing says that the fan turns")
    assert "fan-stopped" not in told(verdict)


@pytest.mark.parametrize(("turns", "on"), [(1.0, ("fan",)), (0.0, ())])
def test_a_fan_that_turns_or_is_switched_off_is_well(turns: float, on: tuple[str, ...]) -> None:
    verdict = look({"air": 60.0, "fan-turns": turns}, run=RUN, state=GuardState(fan_still_since=0.0), on=on)
    assert verdict.state.fan_still_since is None
    assert verdict.no_heat == ""


def test_the_ten_seconds_begin_when_the_fan_is_first_seen_still() -> None:
    assert look({"air": 60.0, "fan-turns": 0.0}, run=RUN, on=("fan",)).state.fan_still_since == NOW


# --- F7 and F12: the contactor


@pytest.mark.parametrize(
    ("closed", "on", "key"),
    [
        (1.0, (), "contactor-welded"),
        (1.0, ("contactor",), None),
        (0.0, ("contactor",), "contactor-open"),
        (0.0, (), None),
        (None, ("contactor",), None),
        (None, (), None),
    ],
)
def test_a_contactor_is_told_only_when_it_says_the_other_thing(
    closed: float | None, on: tuple[str, ...], key: str | None
) -> None:
    found = {c.key for c in look({"air": 60.0, "mains": closed}, on=on).conditions}
    assert found == (set() if key is None else {key})


# --- F4: the other sensors


@pytest.mark.parametrize(
    ("run", "missed"), [(RUN, True), (a_run(phase="held"), True), (a_run(phase="complete"), False)]
)
def test_a_sensor_without_a_good_reading_is_told_in_a_run(run: Run, missed: bool) -> None:
    found = look({"air": 60.0, "rh": None, "room": 20.0}, run=run).conditions
    assert [(c.key, c.subject) for c in found] == ([("sensor-missing", "rh")] if missed else [])


def test_keeping_warm_has_no_step_and_no_band() -> None:
    run = replace(a_run(a_step(safe_rh_high_pct=50.0)), step_index=1)
    assert run.program is not None
    run = replace(run, program=replace(run.program, at_end=AtEnd(action="keep-warm", air_c=65.0)))
    assert not look({"air": 65.0, "rh": 90.0}, run=run).conditions


# --- F22: safe bands

AIR_BAND = {"safe_air_low_c": 50.0, "safe_air_high_c": 70.0}


@pytest.mark.parametrize(
    ("air_c", "outside", "kept"),
    [
        (49.75, True, False),
        (50.0, False, True),
        (50.25, False, True),
        (50.5, False, False),
        (69.5, False, False),
        (69.75, False, True),
        (70.0, False, True),
        (70.25, True, False),
    ],
)
def test_the_air_has_a_safe_band_and_a_dead_band_of_three_tenths_inside(
    air_c: float, outside: bool, kept: bool
) -> None:
    verdict = look({"air": air_c}, run=a_run(a_step(65.0, **AIR_BAND), dwell_s=1.0))
    assert ("air-out-of-safe-band" in told(verdict)) is outside
    assert ("air-out-of-safe-band" in near(verdict)) is kept
    for condition in verdict.conditions:
        assert (condition.subject, condition.value) == ("hot", air_c)


@pytest.mark.parametrize(("rh_pct", "kept"), [(69.0, False), (69.25, True), (70.0, True), (41.0, False), (40.75, True)])
def test_the_dead_band_of_humidity_is_one_per_cent_and_ends_exactly_there(rh_pct: float, kept: bool) -> None:
    run = a_run(a_step(60.0, safe_rh_low_pct=40.0, safe_rh_high_pct=70.0))
    verdict = look({"air": 60.0, "rh": rh_pct}, run=run)
    assert near(verdict) == ({"humidity-out-of-safe-band"} if kept else set())
    assert not told(verdict)


@pytest.mark.parametrize(
    ("low", "high", "rh_pct", "outside"),
    [
        (40.0, None, 39.75, True),
        (40.0, None, 99.0, False),
        (None, 70.0, 70.25, True),
        (None, 70.0, 1.0, False),
        (None, None, 50.0, False),
        (40.0, 70.0, None, False),
    ],
)
def test_a_band_may_have_one_side(low: float | None, high: float | None, rh_pct: float | None, outside: bool) -> None:
    run = a_run(a_step(60.0, safe_rh_low_pct=low, safe_rh_high_pct=high))
    verdict = look({"air": 60.0, "rh": rh_pct}, run=run)
    assert ("humidity-out-of-safe-band" in told(verdict)) is outside


@pytest.mark.parametrize(
    ("run", "judged"),
    [
        (a_run(a_step(60.0, **AIR_BAND)), False),
        (a_run(a_step(60.0, **AIR_BAND), dwell_s=0.25), True),
        (a_run(a_step(None, watch_only=True, **AIR_BAND)), True),
    ],
)
def test_a_heated_steps_band_counts_once_the_air_has_been_there_and_a_watched_one_at_once(
    run: Run, judged: bool
) -> None:
    assert ("air-out-of-safe-band" in told(look({"air": 20.0}, run=run))) is judged


def test_without_an_air_sensor_its_band_is_not_judged() -> None:
    assert not look({"rh": 50.0}, run=a_run(a_step(None, watch_only=True, **AIR_BAND))).conditions
    assert not look({"rh": 50.0}, run=a_run(a_step(60.0, **AIR_BAND), dwell_s=1.0)).conditions


# --- F17: the step and the cap on heating


@pytest.mark.parametrize(
    ("steps", "index", "expected_h"),
    [
        ((a_step(80.0, ends=DWELL),), 0, 2.0),
        ((a_step(82.0, ends=DWELL, ramp_k_per_h=60.0),), 0, 3.0),  # from a room of 22 degC
        ((a_step(82.0, ends=DWELL, ramp_k_per_h=60.0), a_step(40.0, ends=DWELL)), 0, 3.0),
        ((a_step(80.0), a_step(50.0, ends=DWELL, ramp_k_per_h=10.0)), 1, 5.0),
        ((a_step(50.0), a_step(80.0, ends=DWELL, ramp_k_per_h=10.0), a_step(20.0)), 1, 5.0),
        ((a_step(None, watch_only=True), a_step(82.0, ends=DWELL, ramp_k_per_h=60.0)), 1, 3.0),
        ((a_step(None, watch_only=True, ends=DWELL, ramp_k_per_h=60.0),), 0, 2.0),
    ],
)
def test_a_step_may_take_half_as_long_again_and_an_hour(
    steps: tuple[object, ...], index: int, expected_h: float
) -> None:
    at_s = (1.5 * expected_h + 1.0) * HOUR_S
    for step_s, late in ((at_s - 1.0, False), (at_s, False), (at_s + 1.0, True)):
        run = a_run(*steps, step_index=index, step_s=step_s)  # type: ignore[arg-type]
        found = told(look({"air": 60.0}, run=run))
        assert ("step-overrun" in found) is late
        if late:
            assert found["step-overrun"].value == step_s / HOUR_S
            assert found["step-overrun"].subject == "hot"


def test_a_step_that_ends_by_weight_or_core_is_never_late() -> None:
    assert not told(look({"air": 60.0}, run=a_run(a_step(ends=Ends(core_c=70.0)), step_s=1e9)))


@pytest.mark.parametrize(("before_s", "ends"), [(-1.25, False), (-1.0, True), (-0.75, True)])
@pytest.mark.parametrize("run", [RUN, a_run(phase="held"), IDLE, a_run(phase="complete")])
def test_the_cap_on_heating_hours_ends_a_run(run: Run, before_s: float, ends: bool) -> None:
    """The tick adds its second."""
    state, limits = GuardState(heating_s=3.0 * HOUR_S + before_s), Limits(max_heating_h=3.0)
    verdict = look({"air": 60.0}, run=run, state=state, on=("heater",), limits=limits)
    assert verdict.state.heating_s == state.heating_s + 1.0
    assert verdict.heating_cap is (ends and run.phase in ("running", "held"))


def test_time_without_heat_is_not_counted() -> None:
    assert look({"air": 60.0}, run=RUN, state=GuardState(heating_s=5.0), on=("fan",)).state.heating_s == 5.0


# --- F20 to F24: what the shell has told


@pytest.mark.parametrize(
    ("before", "notice", "after"),
    [
        (NOTHING_TOLD, Notice("broker-lost"), Told(broker_lost=True)),
        (Told(broker_lost=True), Notice("broker-well"), NOTHING_TOLD),
        (NOTHING_TOLD, Notice("record-failing", text="disk full"), Told(record_why="disk full")),
        (NOTHING_TOLD, Notice("record-failing"), Told(record_why="the reason is not known")),
        (Told(record_why="disk full"), Notice("record-well"), NOTHING_TOLD),
        (NOTHING_TOLD, Notice("heat-forbidden", text="no watchdog"), Told(no_heat_why="no watchdog")),
        (NOTHING_TOLD, Notice("heat-forbidden"), Told(no_heat_why="heat is forbidden")),
        (Told(no_heat_why="no watchdog"), Notice("heat-allowed"), NOTHING_TOLD),
        (Told(broker_lost=True), Notice("skipped-ticks", 2.0), Told(broker_lost=True)),
    ],
)
def test_what_was_told_stays_until_it_is_taken_back(before: Told, notice: Notice, after: Told) -> None:
    verdict = look({"air": 60.0}, run=RUN, state=GuardState(told=before), notices=(notice,))
    for seen in (verdict, look({"air": 60.0}, run=RUN, state=verdict.state)):
        assert seen.state.told == after
        assert seen.no_heat == after.no_heat_why
        found = told(seen)
        assert ("broker-lost" in found) is after.broker_lost
        assert ("record-failing" in found) is bool(after.record_why)
        if after.record_why:
            assert found["record-failing"].detail == after.record_why


@pytest.mark.parametrize(("losses", "key"), [(1.0, "keeper-lost"), (2.0, "keeper-lost"), (3.0, "keeper-dying")])
def test_the_third_keeper_lost_trips(losses: float, key: str) -> None:
    found = told(look({"air": 60.0}, run=RUN, notices=(Notice("keeper-lost", losses),)))
    assert {k: c.value for k, c in found.items()} == {key: losses}


def test_a_reader_and_a_crash_loop_are_told_with_what_they_are() -> None:
    notices = (Notice("reader-lost", text="top"), Notice("crash-loop", 3.0))
    found = told(look({"air": 60.0}, run=RUN, notices=notices))
    assert found["reader-lost"].subject == "top"
    assert found["crash-loop"].value == 3.0


def test_a_stale_door_or_contactor_sensor_is_no_fault_of_the_thing_itself() -> None:
    """An unread door counts as what it last was; an unread contactor says nothing."""
    old = replace(known(1.0, age_s=99.0), quality="stale")
    verdict = look({"air": 60.0, "door": old, "mains": old}, state=GuardState(door_open_since=NOW - 300.0))
    assert set(told(verdict)) == {"door-open"}
    assert not told(look({"air": 60.0, "door": SensorState()}))
