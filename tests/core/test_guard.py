"""The guard takes heat away and never adds any: one behaviour of the fault contract each, through the engine."""

from __future__ import annotations

import pytest

from dryward.core.alarms import tripped
from dryward.core.chamber import Sensor
from dryward.core.guard import GuardState, after_restart, notes
from dryward.core.inputs import Notice
from tests.core.bench_chamber import AIR, DOOR, LIMIT, Bench, chamber, hot, program

FAN = Sensor(name="fan-turns", role="fan-feedback", device="frame", reads="turns", rated_low=0.0, rated_high=1.0)


def keys(bench: Bench) -> set[str]:
    return {a.key for a in bench.state.alarms if a.phase != "pending"}


def in_band(bench: Bench, air_c: float = 60.0) -> None:
    """Begin at the setpoint, so that the air has been in its band."""
    bench.begin(with_program=program(hot(air_c=air_c)), air_c=air_c)
    bench.turns(30, air_c)


def test_air_far_above_its_setpoint_loses_the_heat_at_thirty_seconds_and_trips_at_three_minutes() -> None:
    """Fault contract F10."""
    bench = Bench.of()
    in_band(bench)
    for step in range(1, 7):
        bench.turn(60.0 + 0.95 * step)  # no jump that would not be believed
    tripped_after = 0
    for second in range(1, 240):
        bench.turn(65.8 + 0.001 * second)
        assert not (bench.heating and second >= 30)
        if tripped(bench.state.alarms) and not tripped_after:
            tripped_after = second
    assert 170 <= tripped_after <= 190
    assert "over-setpoint" in keys(bench)


def test_two_samples_above_the_absolute_limit_abort() -> None:
    """Fault contract F11: top step + 8 K; one sample alone is no reason."""
    bench = Bench.of()
    in_band(bench)
    bench.turn(64.0)
    bench.turn(68.2)
    assert not tripped(bench.state.alarms)
    bench.turn(68.3)
    assert keys(bench) >= {"over-limit"}
    assert bench.state.run.phase in ("aborting", "aborted")


def test_air_sensors_that_differ_are_told_after_a_minute_and_cost_no_heat() -> None:
    """Fault contract F14."""
    bench = Bench.of(chamber(sensors=(AIR, LIMIT)))
    bench.begin(air_c=40.0)
    for _ in range(59):
        bench.turn(40.0, readings=(("limit", 49.0),))
    assert "air-disagrees" not in keys(bench)
    for _ in range(5):
        bench.turn(40.0, readings=(("limit", 49.0),))
    assert "air-disagrees" in keys(bench)
    assert not tripped(bench.state.alarms)


def test_a_fan_that_stands_still_takes_the_heat_within_ten_seconds() -> None:
    """Fault contract F15."""
    bench = Bench.of(chamber(sensors=(AIR, FAN)))
    bench.begin()
    for _ in range(5):
        bench.turn(22.0, readings=(("fan-turns", 1.0),))
    assert bench.heating
    for _ in range(12):
        bench.turn(22.0, readings=(("fan-turns", 0.0),))
    assert not bench.heating
    assert "fan-stopped" in keys(bench)


def test_a_door_open_for_five_minutes_is_told() -> None:
    """Fault contract F22."""
    bench = Bench.of(chamber(sensors=(AIR, DOOR)))
    bench.begin()
    for _ in range(310):
        bench.turn(22.0, readings=(("door", 1.0),))
    assert "door-open" in keys(bench)
    assert not bench.heating


@pytest.mark.parametrize(
    ("notice", "key", "trips"),
    [
        (Notice("record-failing", 0.0, "disk full"), "record-failing", False),
        (Notice("keeper-lost", 1.0), "keeper-lost", False),
        (Notice("keeper-lost", 3.0), "keeper-dying", True),
        (Notice("crash-loop", 3.0), "crash-loop", True),
        (Notice("reader-lost", 1.0, "top"), "reader-lost", False),
    ],
)
def test_what_the_shell_finds_out_is_told_and_trips_where_it_must(notice: Notice, key: str, trips: bool) -> None:
    """Fault contract F4, F20, F23, F24."""
    bench = Bench.of()
    bench.begin()
    bench.turn(22.0, notices=(notice,))
    assert key in keys(bench)
    assert bool(tripped(bench.state.alarms)) is trips
    assert bench.heating is not trips


def test_a_record_that_is_well_again_clears_its_alarm() -> None:
    bench = Bench.of()
    bench.begin()
    bench.turn(22.0, notices=(Notice("record-failing", 0.0, "disk full"),))
    bench.turn(22.0, notices=(Notice("record-well"),))
    bench.turns(60, 22.0)
    assert all(a.phase == "cleared" for a in bench.state.alarms if a.key == "record-failing")


def test_a_clock_step_is_a_note_and_nothing_more() -> None:
    """Fault contract F19."""
    assert [e.severity for e in notes((Notice("clock-stepped", 3600.0),))] == ["log"]


def test_after_a_restart_no_window_is_remembered() -> None:
    assert after_restart(GuardState(heating_since=5.0, heating_s=100.0)).heating_since is None
    assert after_restart(GuardState(heating_since=5.0, heating_s=100.0)).heating_s == 100.0
