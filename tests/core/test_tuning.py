"""The relay test: when it is refused, how it swings, when it stops."""

from __future__ import annotations

from dataclasses import replace

import pytest

from dryward.core.chamber import Chamber, Limits, Output
from dryward.core.tuning import FAR_K, MOST_SWINGS, RelayTest, advance, begin
from tests.bench.plants import REFERENCE, ROOM_C, Box, Thermometer

BOX = Chamber(name="bench", sensors=(), outputs=(Output(name="heater"), Output(name="fan")))


def start(
    chamber: Chamber = BOX, *, setpoint_c: float = 80.0, air_c: float | None = 22.0, room_c: float | None = ROOM_C, door_open: bool = False,
    loaded: bool = False, loaded_allowed: bool = False,
) -> RelayTest:  # fmt: skip
    return begin(
        chamber,
        setpoint_c=setpoint_c,
        air_c=air_c,
        room_c=room_c,
        door_open=door_open,
        loaded=loaded,
        loaded_allowed=loaded_allowed,
        now=100.0,
    )


def swing(test: RelayTest, box: Box, sensor: Thermometer) -> RelayTest:
    """Run a test on a plant to its end."""
    now = test.began_s
    while test.outcome == "running":
        on, test = advance(test, sensor.read(box.sensor_c, now), now, sampled_s=sensor.sampled_s)
        box.step(on=on, dt_s=1.0, now=now)
        now += 1.0
    return test


def test_a_closed_empty_cold_chamber_may_be_tested() -> None:
    test = start()
    assert (test.outcome, test.heater_on, test.reason) == ("running", True, "")


@pytest.mark.parametrize(
    ("test", "words"),
    [
        (start(door_open=True), "door is open"),
        (start(loaded=True), "meat is loaded"),
        (start(air_c=None), "no fresh air reading"),
        (start(air_c=45.0, room_c=None), "still at 45.0 degC"),
        (start(setpoint_c=30.0), "too near the room"),
        (start(setpoint_c=88.0), "no room for the swing"),
        (start(replace(BOX, outputs=(Output(name="fan"),))), "no heater output"),
        (start(replace(BOX, limits=Limits(max_air_c=60.0))), "at most 55 degC"),
    ],
)  # fmt: skip
def test_a_test_that_cannot_be_trusted_is_refused_and_says_why(test: RelayTest, words: str) -> None:
    assert test.outcome == "refused"
    assert not test.heater_on
    assert words in test.reason
    assert advance(test, 22.0, 101.0) == (False, test)


def test_all_reasons_are_told_at_once() -> None:
    reason = start(door_open=True, loaded=True, air_c=None).reason
    assert reason.count(";") >= 4


def test_meat_may_stay_in_with_the_owners_word() -> None:
    assert start(loaded=True, loaded_allowed=True).outcome == "running"


def test_a_rested_chamber_tells_the_room_itself() -> None:
    assert start(air_c=19.5, room_c=None).room_c == 19.5


def test_the_relay_turns_half_a_kelvin_on_either_side() -> None:
    on, test = advance(start(), 80.4, 101.0)
    assert on
    on, test = advance(test, 80.6, 102.0)
    assert not on
    on, test = advance(test, 79.6, 103.0)
    assert not on
    on, test = advance(test, 79.4, 104.0)
    assert on
    assert test.turns_s == (2.0, 4.0)


@pytest.mark.parametrize("figures", REFERENCE, ids=lambda f: f.name)
def test_it_ends_when_the_swings_repeat_each_other(figures) -> None:  # type: ignore[no-untyped-def]
    test = swing(start(), Box(figures), Thermometer(seed=2))
    assert test.outcome == "done"
    assert len(test.turns_s) == 2 * test.swings + 1
    assert not advance(test, 70.0, 1e6)[0]


def test_swings_that_never_settle_end_as_well() -> None:
    test = start()
    now, on, half = 101.0, True, 40
    while test.outcome == "running" and now < 1e5:
        for _ in range(half):
            on, test = advance(test, 80.0, now)
            now += 1.0
        on, test = advance(test, 81.0 if on else 79.0, now)
        now += 1.0
        half = 30 if half == 90 else half + 10
    assert test.outcome == "done"
    assert len(test.turns_s) <= 2 * MOST_SWINGS + 1


def test_a_reading_lost_or_a_door_opened_ends_it_with_the_heat_off() -> None:
    for on, test in (advance(start(), None, 101.0), advance(start(), 40.0, 101.0, door_open=True)):
        assert not on
        assert test.outcome == "refused"
        assert "begin again" in test.reason


def test_a_heater_that_does_not_heat_is_refused_after_a_while() -> None:
    test, now, on = start(), 100.0, True
    while test.outcome == "running":
        now += 1.0
        on, test = advance(test, 22.3, now)
    assert not on
    assert now == pytest.approx(1001.0, abs=2.0)
    assert "raised the air by 0.0 K only" in test.reason


def test_air_that_runs_away_is_refused() -> None:
    on, test = advance(start(), 80.0 + FAR_K + 1.0, 101.0)
    assert not on
    assert "over the setpoint" in test.reason


def test_a_reading_that_is_only_held_is_taken_once() -> None:
    test = start()
    for now in (101.0, 102.0, 103.0):
        _, test = advance(test, 25.0, now, sampled_s=101.0)
    assert test.readings_c == (25.0,)
