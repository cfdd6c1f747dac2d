"""The limits of the fault contract for air and heat, each just below, at and just above: what the guard judges of a tick."""

from __future__ import annotations

from dataclasses import replace

import pytest

from dryward.core.chamber import Limits
from dryward.core.guard import GuardState, Verdict
from dryward.core.progress import Run
from dryward.core.trust import Quality, SensorState
from dryward.core.watch import Band, Off, Push, Still, Watch
from tests.core.guard_scene import IDLE, NOW, a_run, a_step, known, look, near, told

RUN = a_run()
HEAT = ("heater", "fan", "contactor")


# --- F4: the control reading


@pytest.mark.parametrize(("age_s", "heat"), [(9.75, True), (10.0, True), (10.25, False)])
def test_heat_goes_off_when_the_reading_is_more_than_ten_seconds_old(age_s: float, heat: bool) -> None:
    verdict = look({"air": known(60.0, age_s=age_s)}, run=RUN)
    assert (verdict.no_heat == "") is heat
    assert ("air-missing" in told(verdict)) is not heat


@pytest.mark.parametrize("quality", ["stale", "implausible", "failed"])
def test_a_reading_that_is_not_believed_is_none_however_new(quality: Quality) -> None:
    sensor = replace(known(60.0), quality=quality, why="a jump")
    assert look({"air": sensor}, run=RUN).no_heat == "no good reading from air (a jump)"
    assert look({"air": replace(sensor, why="")}, run=RUN).no_heat == f"no good reading from air ({quality})"


@pytest.mark.parametrize(("missing_s", "trips"), [(59.75, False), (60.0, True), (60.25, True)])
def test_a_minute_without_a_reading_trips(missing_s: float, trips: bool) -> None:
    old = replace(known(60.0, age_s=missing_s), quality="stale")
    found = told(look({"air": old}, run=RUN, state=GuardState(heating_since=0.0)))
    assert found["air-missing"].value == missing_s
    assert found["air-missing"].subject == "air"
    assert ("air-lost" in found) is trips
    if trips:
        assert found["air-lost"] == found["air-missing"]._replace(key="air-lost")


def test_the_minute_begins_when_heat_may_be_wanted() -> None:
    found = told(look({"air": None}, run=RUN, state=GuardState(heating_since=NOW - 59.0)))
    assert found["air-missing"].value == 59.0
    assert "air-lost" not in found


@pytest.mark.parametrize(
    ("run", "awaited"),
    [
        (RUN, True),
        (a_run(phase="restarting"), True),
        (a_run(phase="held"), False),
        (a_run(a_step(None, watch_only=True)), False),
        (IDLE, False),
    ],
)
def test_a_reading_is_awaited_while_heat_may_be_wanted(run: Run, awaited: bool) -> None:
    assert look({"air": 60.0}, run=run).state.heating_since == (NOW if awaited else None)
    known_since = look({"air": 60.0}, run=run, state=GuardState(heating_since=5.0)).state.heating_since
    assert known_since == (5.0 if awaited else None)


@pytest.mark.parametrize(
    ("run", "missed"), [(a_run(phase="held"), True), (a_run(a_step(None, watch_only=True)), True), (IDLE, False)]
)
def test_without_heat_in_a_run_a_missing_reading_is_that_of_any_sensor(run: Run, missed: bool) -> None:
    verdict = look({"air": None}, run=run)
    assert set(told(verdict)) == ({"sensor-missing"} if missed else set())
    assert verdict.no_heat


def test_a_slow_logger_is_no_missing_sensor_where_nothing_heats_but_gives_no_heat() -> None:
    """A reading every few minutes, as of a cold rest in a fridge: within its own ``fresh_s``, too old for heat (F4)."""
    slow = replace(known(4.0), sampled_s=NOW - 120.0)
    verdict = look({"air": slow}, run=a_run(a_step(None, watch_only=True)))
    assert (told(verdict), bool(verdict.no_heat)) == ({}, True)
    assert "air-missing" in told(look({"air": slow}, run=RUN))


# --- F11: the absolute limit


@pytest.mark.parametrize(("air_c", "over"), [(87.75, False), (88.0, False), (88.25, True)])
@pytest.mark.parametrize("index", [0, 1])
def test_nothing_may_be_eight_kelvin_above_the_hottest_step(index: int, air_c: float, over: bool) -> None:
    """The hottest step's limit holds in the cooler step before it too."""
    run = a_run(a_step(50.0), a_step(80.0), step_index=index)
    for name in ("air", "limit"):
        found = told(look({"air": 80.0, "limit": 80.0, name: air_c}, run=run))
        assert ("over-limit" in found) is over
        if over:
            assert found["over-limit"].value == air_c
            assert found["over-limit"].subject == name


@pytest.mark.parametrize(("air_c", "over"), [(69.75, False), (70.0, False), (70.25, True)])
@pytest.mark.parametrize("run", [IDLE, RUN, a_run(phase="complete")])
def test_the_chambers_own_limit_holds_always(run: Run, air_c: float, over: bool) -> None:
    assert ("over-limit" in told(look({"air": air_c}, run=run, limits=Limits(max_air_c=70.0)))) is over


def test_after_the_run_only_the_chambers_own_limit_counts() -> None:
    assert "over-limit" not in told(look({"air": 89.0}, run=a_run(phase="complete")))
    assert "over-limit" in told(look({"air": 89.0}, run=a_run(phase="held")))


@pytest.mark.parametrize(("air_c", "before_c", "over"), [(89.0, 88.0, False), (88.0, 89.0, False), (89.0, 88.25, True)])
def test_it_takes_two_samples(air_c: float, before_c: float, over: bool) -> None:
    assert ("over-limit" in told(look({"air": known(air_c, before=before_c)}, run=RUN))) is over


@pytest.mark.parametrize(("before_c", "over"), [(90.0, True), (89.75, True), (89.5, False)])
def test_two_samples_that_no_air_can_make_do_not_agree(before_c: float, over: bool) -> None:
    """A jump of more than 5 K between them is the sensor and not the air."""
    assert ("over-limit" in told(look({"air": known(94.75, before=before_c)}, run=RUN))) is over


@pytest.mark.parametrize(("age_s", "over"), [(59.75, True), (60.0, True), (60.25, False)])
def test_a_sample_counts_for_a_minute_believed_or_not(age_s: float, over: bool) -> None:
    sensor = replace(known(95.0, age_s=age_s), value=60.0, quality="implausible")
    assert ("over-limit" in told(look({"air": sensor}, run=RUN))) is over


def test_a_sensor_with_one_sample_or_none_is_over_no_limit() -> None:
    assert "over-limit" not in told(look({"air": replace(known(95.0), raw_before=None)}, run=RUN))
    assert "over-limit" not in told(look({"air": SensorState()}, run=RUN))


# --- F14: two air sensors disagree


@pytest.mark.parametrize(("limit_c", "apart"), [(47.75, False), (48.0, False), (48.25, True)])
@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_more_than_eight_kelvin_apart_is_too_much(sign: float, limit_c: float, apart: bool) -> None:
    values = {"air": 40.0, "limit": 40.0 + sign * (limit_c - 40.0)}
    verdict = look(values, run=RUN, state=GuardState(disagree_since=NOW - 60.0))
    assert ("air-disagrees" in told(verdict)) is apart
    if apart:
        assert told(verdict)["air-disagrees"].value == limit_c - 40.0
    assert verdict.state.disagree_since == (NOW - 60.0 if apart else None)


@pytest.mark.parametrize(("since_s", "told_of"), [(59.75, False), (60.0, True), (60.25, True)])
def test_it_is_told_after_a_minute(since_s: float, told_of: bool) -> None:
    verdict = look({"air": 40.0, "limit": 49.0}, run=RUN, state=GuardState(disagree_since=NOW - since_s))
    assert ("air-disagrees" in told(verdict)) is told_of
    assert not near(verdict)
    assert verdict.state.disagree_since == NOW - since_s


def test_the_minute_begins_with_the_difference() -> None:
    assert look({"air": 40.0, "limit": 49.0}).state.disagree_since == NOW


@pytest.mark.parametrize(("limit_c", "kept"), [(46.75, False), (47.0, False), (47.25, True), (48.0, True)])
def test_within_a_kelvin_of_it_an_alarm_is_kept(limit_c: float, kept: bool) -> None:
    verdict = look({"air": 40.0, "limit": limit_c})
    assert ("air-disagrees" in near(verdict)) is kept
    assert "air-disagrees" not in told(verdict)


@pytest.mark.parametrize("limit", [None, 40.0])
def test_one_good_sensor_or_two_that_agree_differ_in_nothing(limit: float | None) -> None:
    verdict = look({"air": 40.0, "limit": limit}, state=GuardState(disagree_since=0.0))
    assert verdict.conditions == ()
    assert verdict.state.disagree_since is None


@pytest.mark.parametrize(("since_s", "counts"), [(59.0, False), (60.0, True)])
def test_then_the_hotter_one_counts_above_the_setpoint(since_s: float, counts: bool) -> None:
    watch = Watch(smooth_c=40.0, band=Band(40.0, been_in=True, armed=True, over_since_s=NOW - 30.0))
    state = GuardState(watch=watch, disagree_since=NOW - since_s)
    found = told(look({"air": 40.0, "limit": 49.0}, run=a_run(a_step(40.0)), state=state, setpoint_c=40.0))
    assert ("too-hot-for-step" in found) is counts
    if counts:
        assert found["too-hot-for-step"].value == 49.0


# --- F6, F7, F8, F13: heat and no answer


def pushed(air_c: float, *, minute_ago_c: float, before_c: float, since_s: float = 200.0) -> Verdict:
    """At full power towards 80 degC for ``since_s``, ``before_c`` two and three minutes ago."""
    trail = tuple((NOW - t, before_c if t > 60.0 else minute_ago_c) for t in (200.0, 180.0, 120.0, 60.0, 40.0, 20.0))
    watch = Watch(air_c, trail, Push(NOW - since_s, before_c), None, None, Band(80.0), None, 1.0)
    return look({"air": air_c}, run=RUN, state=GuardState(watch=watch), on=HEAT, setpoint_c=80.0, duty=1.0)


def test_full_power_without_an_answer_trips_and_before_its_time_does_not() -> None:
    assert told(pushed(30.0, minute_ago_c=30.0, before_c=30.0))["no-heat-response"].value == 30.0
    assert not told(pushed(30.0, minute_ago_c=30.0, before_c=30.0, since_s=173.0))
    assert "reversed" not in told(pushed(30.0, minute_ago_c=30.0, before_c=30.0))


def test_cool_air_that_falls_at_full_power_is_a_swapped_sensor_and_warm_air_may_be_a_dead_heater() -> None:
    assert told(pushed(30.0, minute_ago_c=31.5, before_c=33.25))["reversed"].value == 30.0
    assert "reversed" not in told(pushed(36.0, minute_ago_c=37.5, before_c=39.25))


def stuck(since_s: float, off_s: float | None) -> Verdict:
    """A reading that has not moved for ``since_s``, after heat, the heater off for ``off_s``."""
    began_s = NOW - since_s
    off = None if off_s is None else Off(NOW - off_s, fan_on=True)
    watch = Watch(
        60.0, off=off, band=Band(60.0, been_in=True, armed=True), still=Still(60.0, began_s, 60.0, began_s, 0.0)
    )
    on = HEAT if off is None else ("fan",)
    return look(
        {"air": 60.0}, run=a_run(a_step(60.0)), state=GuardState(watch=watch, heating_s=300.0), on=on, setpoint_c=60.0
    )


def test_a_reading_that_stands_still_loses_the_heat_and_trips_only_when_it_does_not_fall_without() -> None:
    doubtful = stuck(400.0, None)
    assert "does not move" in doubtful.no_heat
    assert not told(doubtful)
    found = stuck(700.0, 300.0)
    assert told(found)["air-stuck"].subject == "air"
    assert told(found)["air-stuck"].value == 60.0
    assert stuck(299.0, None).no_heat == ""


# --- F9, F10: the setpoint


def band(air_c: float, was: Band, *, setpoint_c: float = 80.0, room_c: float | None = None) -> Verdict:
    """One tick more at ``air_c``, where the air has stood still."""
    watch = Watch(air_c, ((NOW - 70.0, air_c), (NOW - 10.0, air_c)), band=was)
    values = {"air": air_c} | ({} if room_c is None else {"room": room_c})
    return look(values, run=a_run(a_step(setpoint_c)), state=GuardState(watch=watch), setpoint_c=setpoint_c)


@pytest.mark.parametrize(
    ("before_ks", "alarmed", "trips"),
    [
        (589.75, False, False),
        (590.0, True, False),
        (590.25, True, False),
        (1789.75, True, False),
        (1790.0, True, True),
        (1790.25, True, True),
    ],
)
def test_six_hundred_kelvin_seconds_below_are_told_and_three_times_that_trips(
    before_ks: float, alarmed: bool, trips: bool
) -> None:
    """10 K below for the tick of one second."""
    verdict = band(70.0, Band(80.0, been_in=True, below_ks=before_ks, armed=True))
    assert ("below-band" in told(verdict)) is alarmed
    assert ("below-band-long" in told(verdict)) is trips
    assert {c.value for c in verdict.conditions} <= {70.0}


def test_the_steps_clock_waits_while_the_air_is_below() -> None:
    assert band(70.0, Band(80.0, been_in=True, armed=True)).waits
    assert not band(80.0, Band(80.0, been_in=True, armed=True)).waits


@pytest.mark.parametrize(("over_s", "heat"), [(29.75, True), (30.0, False), (30.25, False)])
def test_the_heat_goes_after_thirty_seconds_above(over_s: float, heat: bool) -> None:
    verdict = band(85.5, Band(80.0, been_in=True, armed=True, over_since_s=NOW - over_s))
    assert (verdict.no_heat == "") is heat
    assert ("too-hot-for-step" in told(verdict)) is not heat


@pytest.mark.parametrize(("over_s", "trips"), [(178.75, False), (179.0, True), (179.25, True)])
def test_three_minutes_above_trip(over_s: float, trips: bool) -> None:
    """The tick adds its second."""
    verdict = band(85.5, Band(80.0, been_in=True, armed=True, over_since_s=NOW - 200.0, over_s=over_s))
    assert ("over-setpoint" in told(verdict)) is trips
    assert {c.value for c in verdict.conditions} == {85.5}


@pytest.mark.parametrize(
    ("air_c", "room_c", "heated"),
    [(35.0, None, False), (35.25, None, True), (29.0, 24.0, False), (29.25, 24.0, True), (35.25, 31.0, False)],
)
def test_what_a_room_can_do_is_no_heat_out_of_control(air_c: float, room_c: float | None, heated: bool) -> None:
    """A cool cabinet whose cooler rests: above 35 degC, or 5 K above the room where that is measured, it is heat."""
    was = Band(22.0, been_in=True, armed=True, over_since_s=NOW - 200.0, over_s=200.0)
    assert ("over-setpoint" in told(band(air_c, was, setpoint_c=22.0, room_c=room_c))) is heated
    assert "too-hot-for-step" in told(band(air_c, was, setpoint_c=22.0, room_c=room_c))


# --- F12: heat while off


def off(
    air_c: float, level_c: float, *, values: dict[str, float] | None = None, outputs: tuple[str, ...] = HEAT
) -> Verdict:
    watch = Watch(air_c, off=Off(NOW - 500.0, fan_on=False, level_c=level_c))
    return look({"air": air_c} | (values or {}), state=GuardState(watch=watch), outputs=outputs)


def test_air_two_kelvin_above_its_level_with_the_heater_off_is_a_welded_contact() -> None:
    assert told(off(62.25, 60.0))["heat-while-off"].value == 62.25
    assert not told(off(62.0, 60.0))
    assert not told(off(34.0, 30.0))
    assert not told(off(62.25, 60.0, outputs=("cooler", "fan")))


def test_with_a_door_switch_the_level_follows_the_air_down_at_once() -> None:
    for values, level_c in (({}, 60.0 - 2.0 / 600.0), ({"door": 0.0}, 58.0)):
        after = off(58.0, 60.0, values=values).state.watch.off
        assert after is not None
        assert after.level_c == level_c


@pytest.mark.parametrize("air", [60.0, None])
@pytest.mark.parametrize("fan", [True, False])
def test_the_wait_for_after_heat_goes_on_while_the_fan_stays_as_it_is(air: float | None, fan: bool) -> None:
    since = Off(NOW - 50.0, fan_on=fan)
    for on, began_s in (("fan",), NOW - 50.0 if fan else NOW), ((), NOW if fan else NOW - 50.0):
        after = look({"air": air}, state=GuardState(watch=Watch(off=since)), on=on).state.watch.off
        assert after is not None
        assert after.since_s == began_s


def test_air_too_hot_is_told_as_the_reason_against_heat_and_commissioning_never_heats() -> None:
    hot = Band(80.0, been_in=True, armed=True, over_since_s=NOW - 30.0)
    assert band(85.5, hot).no_heat == "the air is too far above its setpoint"
    assert "commissioning" in look({"air": 60.0}, run=RUN, limits=Limits(commissioning=True)).no_heat
