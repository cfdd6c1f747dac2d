"""A program suits a chamber, or is refused with the reason and the cure."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dryward.core.chamber import Chamber, Limits, Output, Sensor
from dryward.core.program import AtEnd, Ends, Program, Step
from dryward.settings import Mistake, SettingsError, check_program_on_chamber

AIR = Sensor(name="air", role="control-air", device="top", rated_high=125.0)
LIMIT = Sensor(name="limit", role="limit-air", device="high", rated_low=-55.0, rated_high=125.0)
HUMIDITY = Sensor(name="rh", role="humidity", device="top", rated_low=0.0, rated_high=100.0)
CORE = Sensor(name="probe", role="core", device="probe")
DRYER = Chamber(name="shed", sensors=(AIR, LIMIT, HUMIDITY, CORE), outputs=(Output(name="heater"), Output(name="vent")))
CABINET = replace(DRYER, outputs=(Output(name="cooler"), Output(name="humidifier")))
BARE = Chamber(name="bare", sensors=(Sensor(name="room", role="ambient", device="top"),))


def _program(step: Step, at_end: AtEnd | None = None) -> Program:
    return Program(name="p", steps=(step,), cap_h=100.0, at_end=at_end or AtEnd())


def _hot(air_c: float, **more: object) -> Program:
    return _program(replace(Step(name="hot", air_c=air_c, ends=Ends(dwell_h=5.0)), **more))  # type: ignore[arg-type]


def _refused(program: Program, chamber: Chamber) -> dict[str, Mistake]:
    with pytest.raises(SettingsError) as error:
        check_program_on_chamber(program, chamber, "hot.toml")
    assert {m.file for m in error.value.mistakes} == {"hot.toml"}
    return {m.key: m for m in error.value.mistakes}


@pytest.mark.parametrize(
    ("program", "chamber"),
    [
        (_hot(80.0), DRYER),
        (_hot(80.0, rh_pct=30.0), DRYER),
        (_hot(80.0, ends=Ends(core_c=60.0)), DRYER),
        (_hot(85.0), DRYER),
        (_hot(13.0, rh_pct=78.0), CABINET),
        (_hot(20.0), CABINET),
        (_program(Step(name="rest", watch_only=True, safe_air_high_c=4.4, ends=Ends(dwell_h=72.0))), DRYER),
        (_program(Step(name="rest", watch_only=True, ends=Ends(dwell_h=72.0))), BARE),
    ],
)
def test_what_a_chamber_can_do_is_accepted(program: Program, chamber: Chamber) -> None:
    check_program_on_chamber(program, chamber)


def test_a_dht22_alone_at_an_80_degree_step_is_refused_with_reason_and_cure() -> None:
    """The DHT22 is rated to 80 degC (its datasheet): nothing is left above the setpoint for the trip to see."""
    told = _refused(_hot(80.0), replace(DRYER, sensors=(replace(AIR, rated_high=80.0),)))["steps.hot.air_c"]
    assert told.value == "80"
    assert told.limit == (
        "sensor 'air' (control-air) is rated to 80 degC; the step needs 88: its own 80 and 8 K up to the trip"
    )
    assert told.cure.startswith("Use sensors rated to 88 degC or more for the air")
    assert told.cure.endswith("or lower the step to 72.")


def test_every_sensor_that_cannot_see_the_trip_is_named() -> None:
    chamber = replace(DRYER, sensors=(replace(AIR, rated_high=85.0), replace(LIMIT, rated_high=80.0)))
    told = _refused(_hot(80.0), chamber)["steps.hot.air_c"]
    assert "'air' (control-air) is rated to 85 degC, sensor 'limit' (limit-air) is rated to 80 degC" in told.limit
    assert told.cure.endswith("or lower the step to 72.")
    assert (
        "limit"
        in _refused(_hot(80.0), replace(DRYER, sensors=(AIR, replace(LIMIT, rated_high=85.0))))["steps.hot.air_c"].limit
    )


@given(st.floats(40.0, 85.0), st.floats(40.0, 125.0), st.floats(1.0, 20.0))
def test_the_air_is_held_only_where_every_air_sensor_sees_up_to_the_trip(
    air_c: float, rated_c: float, margin_k: float
) -> None:
    """The trip stands at setpoint plus margin, but never above the chamber's own limit of 90 degC."""
    chamber = replace(DRYER, sensors=(replace(AIR, rated_high=rated_c), LIMIT), limits=Limits(over_top_step_k=margin_k))
    trips_at = min(air_c + margin_k, 90.0)
    try:
        check_program_on_chamber(_hot(air_c), chamber)
        accepted = True
    except SettingsError:
        accepted = False
    if abs(rated_c - trips_at) > 1e-6:
        assert accepted is (rated_c > trips_at)


def test_the_cold_end_of_a_rating_counts_too() -> None:
    told = _refused(_hot(-2.0), replace(CABINET, sensors=(replace(AIR, rated_low=0.0),)))
    assert told["steps.hot.air_c"].limit == "sensor 'air' (control-air) is rated from 0 degC; the step needs -2"


@pytest.mark.parametrize(
    ("program", "chamber", "key", "value", "limit", "cure"),
    [
        (_hot(95.0), DRYER, "steps.hot.air_c", "95", "at most 90 degC, the chamber's max_air_c", "Lower the step"),
        (
            _hot(86.0),  # its normal swing would reach the limit before over_setpoint_k takes the heat away
            DRYER,
            "steps.hot.air_c",
            "86",
            "at most 85 degC: it trips at max_air_c = 90, and only 5 K (over_setpoint_k) above a step goes the heat off",
            "Lower the step",
        ),
        (_hot(80.0), CABINET, "steps.hot.air_c", "80", "needs a heater; this chamber has none", "[outputs.heater]"),
        (_hot(4.0), DRYER, "steps.hot.air_c", "4", "needs a cooler; this chamber has none", "watch_only = true"),
        (
            _hot(20.0),
            replace(DRYER, outputs=()),
            "steps.hot.air_c",
            "20",
            "needs a heater or a cooler; this chamber has none",
            "watch_only = true",
        ),
        (
            _hot(80.0),
            replace(DRYER, sensors=(LIMIT,)),
            "steps.hot.air_c",
            "80",
            'needs a sensor with role = "control-air"',
            "this role",
        ),
        (
            _hot(80.0, rh_pct=30.0),
            replace(DRYER, outputs=(Output(name="heater"),)),
            "steps.hot.rh_pct",
            "30",
            "needs a humidifier, a dehumidifier or a vent",
            "Take the line out",
        ),
        (
            _hot(80.0, rh_pct=30.0),
            replace(DRYER, sensors=(AIR,)),
            "steps.hot.rh_pct",
            "30",
            'needs a sensor with role = "humidity"',
            "add the sensor",
        ),
        (
            _hot(80.0, safe_rh_low_pct=30.0),
            replace(DRYER, sensors=(AIR,)),
            "steps.hot.safe_rh_low_pct",
            "30",
            'needs a sensor with role = "humidity"',
            "add the sensor",
        ),
        (
            _hot(80.0, ends=Ends(core_c=60.0)),
            replace(DRYER, sensors=(AIR,)),
            "steps.hot.ends.core_c",
            "60",
            'needs a sensor with role = "core"',
            "core probe",
        ),
        (
            _program(Step(name="rest", watch_only=True, safe_air_high_c=4.4, ends=Ends(dwell_h=72.0))),
            BARE,
            "steps.rest.safe_air_high_c",
            "4.4",
            'needs a sensor with role = "control-air"',
            "add the sensor",
        ),
        (
            _program(Step(name="hot", air_c=70.0, ends=Ends(dwell_h=5.0)), AtEnd(action="keep-warm", air_c=95.0)),
            DRYER,
            "at_end.air_c",
            "95",
            "at most 90 degC, the chamber's max_air_c",
            "Lower the step",
        ),
    ],
)
def test_each_thing_a_chamber_cannot_do_is_told(
    program: Program, chamber: Chamber, key: str, value: str, limit: str, cure: str
) -> None:
    told = _refused(program, chamber)
    assert list(told) == [key]
    assert (told[key].value, told[key].limit) == (value, limit)
    assert cure in told[key].cure


def test_all_steps_are_told_at_once_in_their_order() -> None:
    steps = tuple(
        Step(name=name, air_c=air_c, rh_pct=50.0, ends=Ends(dwell_h=1.0)) for name, air_c in (("a", 95.0), ("b", 4.0))
    )
    told = _refused(Program(name="p", steps=steps, cap_h=10.0), replace(DRYER, sensors=(AIR,)))
    assert list(told) == ["steps.a.air_c", "steps.a.rh_pct", "steps.b.air_c", "steps.b.rh_pct"]
