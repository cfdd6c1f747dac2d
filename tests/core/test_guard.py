"""The guard takes heat away and never adds any: one behaviour of the fault contract each, through the engine."""

from __future__ import annotations

from dataclasses import replace

import pytest

from dryward.core.alarms import tripped
from dryward.core.chamber import Sensor
from dryward.core.guard import GuardState, after_restart, notes
from dryward.core.inputs import Notice
from tests.core.bench_chamber import AIR, DOOR, HUMIDITY, LIMIT, Bench, chamber, hot, program

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
        (Notice("state-lost", 0.0, "the record is damaged"), "state-lost", False),
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


CONTACTOR = Sensor(
    name="mains", role="contactor-feedback", device="frame", reads="closed", rated_low=0.0, rated_high=1.0
)


def test_a_contactor_that_does_not_obey_is_told() -> None:
    """Fault contract F7 and F12: the master contactor's own report against what is switched."""
    bench = Bench.of(chamber(sensors=(AIR, CONTACTOR)))
    for _ in range(60):
        bench.turn(22.0, readings=(("mains", 1.0),))
    assert "contactor-welded" in keys(bench)
    other = Bench.of(chamber(sensors=(AIR, CONTACTOR)))
    other.begin()
    for _ in range(60):
        other.turn(22.0, readings=(("mains", 0.0),))
    assert "contactor-open" in keys(other)


def test_a_fan_that_says_nothing_takes_the_heat_and_is_no_trip() -> None:
    bench = Bench.of(chamber(sensors=(AIR, FAN)))
    bench.begin()
    for _ in range(5):
        bench.turn(22.0, readings=(("fan-turns", 1.0),))
    bench.turns(40, 22.0)
    assert not bench.heating
    assert "nothing says that the fan turns" in bench.state.no_heat
    assert not tripped(bench.state.alarms)


def test_without_a_control_sensor_there_is_no_heat() -> None:
    bench = Bench.of(chamber(sensors=(LIMIT,)))
    bench.begin(air_c=22.0)
    bench.turn(None, readings=(("limit", 22.0),))
    assert not bench.heating
    assert bench.state.no_heat == "there is no control sensor"


def test_late_decisions_and_refused_requests_are_noted() -> None:
    told = notes((Notice("skipped-ticks", 4.0), Notice("request-refused", 0.0, "no"), Notice("record-well")))
    assert [e.kind for e in told] == ["skipped-ticks", "request-refused"]


@pytest.mark.parametrize(
    ("chamber_low", "step_low", "alarmed"), [(40.0, None, True), (40.0, 10.0, False), (0.0, None, False)]
)
def test_the_chambers_own_lower_humidity_holds_where_a_step_names_none(
    chamber_low: float, step_low: float | None, alarmed: bool
) -> None:
    made = replace(chamber(sensors=(AIR, HUMIDITY)), humidity_low_pct=chamber_low)
    bench = Bench.of(made)
    step = replace(hot(air_c=60.0), safe_rh_low_pct=step_low)
    bench.begin(with_program=program(step), air_c=60.0)
    for _ in range(700):
        bench.turn(60.0, readings=(("rh", 25.0),))
    assert ("humidity-out-of-safe-band" in keys(bench)) is alarmed


def test_much_heat_without_a_rise_is_put_to_the_test_before_it_trips() -> None:
    """Fault contract F8: the heat waits, to see whether the air falls without it; only then is it a trip."""
    bench = Bench.of()
    bench.begin(with_program=program(hot(air_c=80.0)), air_c=70.0)
    waited = False
    for second in range(1, 1500):
        bench.turn(70.0 + 0.05 * (second % 2))
        waited = waited or ("much heat and no rise" in bench.state.no_heat and not tripped(bench.state.alarms))
        if tripped(bench.state.alarms):
            break
    assert waited
    assert "no-heat-near-target" in keys(bench)
