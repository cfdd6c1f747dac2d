"""What the guard concludes from what it remembers, at the exact limits: F6, F7, F8, F12, F13."""

from __future__ import annotations

from dataclasses import replace
from math import exp

import pytest

from dryward.core.chamber import Limits, Plant
from dryward.core.watch import (
    DOOR_FALLS_K,
    FRESH,
    MOVES_K,
    WEAK_MAINS,
    Band,
    Budget,
    Off,
    Push,
    Still,
    Watch,
    falls_at_full_power,
    no_response,
    rises_while_off,
    spent_in_vain,
    stands_still,
)

NOW, LIMITS, ROOM_C = 10_000.0, Limits(), 22.0
PLANT = Plant(gain_k=128.0, time_constant_s=900.0, dead_time_s=20.0, lag_s=15.0)


def course(*points: tuple[float, float]) -> tuple[tuple[float, float], ...]:
    """The air so many seconds ago, the oldest first."""
    return tuple((NOW - ago_s, air_c) for ago_s, air_c in points)


# --- F7 before tuning


def pushed(
    air_c: float,
    *points: tuple[float, float],
    push_s: float = 200.0,
    from_c: float = 30.0,
    setpoint_c: float = 80.0,
    share: float = 0.0,
) -> Watch:
    return Watch(air_c, course(*points), Push(NOW - push_s, from_c, share), band=Band(setpoint_c))


def answers(watch: Watch, plant: Plant | None = None) -> bool:
    return not no_response(watch, LIMITS, plant, room_c=ROOM_C, now=NOW)


FLAT = ((200.0, 30.0), (120.0, 30.0), (60.0, 30.0), (20.0, 30.0))


@pytest.mark.parametrize(("push_s", "judged"), [(173.75, False), (174.0, True), (174.25, True)])
def test_an_answer_is_missed_after_174_seconds_of_full_power(push_s: float, judged: bool) -> None:
    """Within the 60 to 180 s of the fault contract."""
    assert answers(pushed(30.0, *FLAT, push_s=push_s)) is not judged


def test_without_push_setpoint_or_air_nothing_is_missed() -> None:
    whole = pushed(30.0, *FLAT)
    assert not answers(whole)
    for part in ({"push": None}, {"band": Band()}, {"smooth_c": None}, {"trail": ()}):
        assert answers(replace(whole, **part))


@pytest.mark.parametrize(("before_c", "answered"), [(28.25, False), (28.0, True), (27.75, True)])
def test_two_kelvin_in_two_minutes_are_an_answer(before_c: float, answered: bool) -> None:
    assert answers(pushed(30.0, (120.0, before_c), (60.0, 30.0), (20.0, 30.0), from_c=28.0)) is answered


@pytest.mark.parametrize(("setpoint_c", "judged"), [(54.75, False), (55.0, False), (55.25, True)])
def test_within_25_kelvin_of_the_target_the_budget_judges_instead(setpoint_c: float, judged: bool) -> None:
    assert answers(pushed(30.0, *FLAT, setpoint_c=setpoint_c)) is not judged


@pytest.mark.parametrize(("from_c", "judged"), [(-22.0, False), (-20.0, False), (-18.0, True)])
def test_on_the_second_half_of_a_long_way_the_budget_judges_instead(from_c: float, judged: bool) -> None:
    """50 K are left at 30 degC: half of the way from -20."""
    assert answers(pushed(30.0, *FLAT, from_c=from_c)) is not judged


@pytest.mark.parametrize(
    ("just_now_c", "minute_ago_c", "door"),
    [
        (30.0 - MOVES_K - 0.0625, 30.0, True),
        (30.25 - MOVES_K, 30.0, False),
        (30.0, 30.0 + DOOR_FALLS_K, False),
        (30.0, 30.25 + DOOR_FALLS_K, True),
    ],
)
def test_air_that_rises_now_or_falls_as_behind_an_open_door_is_not_judged(
    just_now_c: float, minute_ago_c: float, door: bool
) -> None:
    watch = pushed(30.0, (120.0, 30.0), (60.0, minute_ago_c), (20.0, just_now_c))
    assert answers(watch) is door


def test_just_now_is_twenty_seconds_ago() -> None:
    assert answers(pushed(30.0, (120.0, 30.0), (60.0, 30.0), (20.0, 29.0), (5.0, 30.0)))
    assert not answers(pushed(30.0, (120.0, 30.0), (60.0, 30.0), (20.0, 30.0), (5.0, 29.0)))


def test_a_rise_of_exactly_what_noise_makes_is_none() -> None:
    assert not answers(pushed(30.0 + MOVES_K, (120.0, 30.0), (60.0, 30.0), (20.0, 30.0)))


def test_a_trail_too_young_for_a_door_is_judged() -> None:
    assert not answers(pushed(30.0, (120.0, 30.0)))
    young = Watch(30.0, course((10.0, 30.0)), Push(NOW - 200.0, 30.0), band=Band(80.0))
    assert answers(young)


# --- F7 after tuning


def need_k(window_s: float, held: float) -> float:
    """Three quarters of what a healthy heater gives with weak mains on top of ``held``."""
    return 0.75 * (WEAK_MAINS - held) * 128.0 * (1.0 - exp(-window_s / 900.0))


@pytest.mark.parametrize(
    ("share", "from_c", "held"), [(0.0, 22.0, 0.0), (0.25, 22.0, 0.25), (0.25, 38.0, 0.25), (0.0, 54.0, 0.25)]
)
def test_a_tuned_chamber_owes_nearly_half_of_its_rise_less_what_noise_makes(
    share: float, from_c: float, held: float
) -> None:
    """At 180 s of full power, after its delay of 35 s: a window of 145 s."""
    owed_c = from_c + need_k(145.0, held) - MOVES_K
    for air_c, answered in ((owed_c - 0.01, False), (owed_c + 0.01, True)):
        watch = pushed(air_c, (150.0, from_c), (60.0, air_c), (20.0, air_c), push_s=180.0, share=share)
        assert answers(watch, PLANT) is answered


@pytest.mark.parametrize(("push_s", "tuned"), [(193.75, True), (194.0, False), (194.25, False)])
def test_after_twenty_seconds_more_walls_and_meat_make_it_slow(push_s: float, tuned: bool) -> None:
    """Then it is judged as before tuning: here too near its target for that."""
    watch = pushed(60.0, (200.0, 60.0), (60.0, 60.0), (20.0, 60.0), push_s=push_s, from_c=60.0)
    assert answers(watch, PLANT) is not tuned


def test_less_than_a_kelvin_is_too_little_to_judge() -> None:
    """A quick, weak chamber that owes exactly a kelvin: 0.75 x 0.64 x 1/0.48 K, all of it within the window."""

    def owes(gain_k: float, air_c: float) -> bool:
        watch = pushed(air_c, (150.0, 0.0), (60.0, air_c), (20.0, air_c), push_s=180.0)
        plant = Plant(gain_k=gain_k, time_constant_s=1.5, dead_time_s=20.0, lag_s=15.0)
        return no_response(watch, LIMITS, plant, room_c=0.0, now=NOW)

    assert owes(1.0 / 0.48, 0.0)
    assert not owes(0.99 / 0.48, 0.0)
    assert owes(1.0 / 0.48, 0.2)
    assert not owes(1.0 / 0.48, 1.0 - MOVES_K)


def test_the_window_of_a_slow_chamber_is_a_minute_at_least_and_needs_a_trail() -> None:
    slow = replace(PLANT, dead_time_s=150.0)
    owed_c = 22.0 + need_k(60.0, 0.0) - MOVES_K
    for air_c, answered in ((owed_c - 0.01, False), (owed_c + 0.01, True)):
        watch = pushed(air_c, (60.0, 22.0), (20.0, air_c), push_s=180.0)
        assert answers(watch, slow) is answered
    assert answers(pushed(22.0, (59.0, 22.0), push_s=180.0), slow)
    assert answers(pushed(22.0, (144.0, 22.0), push_s=180.0), PLANT)
    assert not answers(pushed(22.0, (145.0, 22.0), push_s=180.0), PLANT)


# --- F13


def falls(watch: Watch) -> bool:
    return falls_at_full_power(watch, LIMITS, now=NOW)


@pytest.mark.parametrize(("push_s", "judged"), [(119.75, False), (120.0, True), (120.25, True)])
def test_a_fall_is_judged_after_two_thirds_of_its_time(push_s: float, judged: bool) -> None:
    assert falls(pushed(26.0, (100.0, 29.0), (60.0, 28.0), push_s=push_s)) is judged


@pytest.mark.parametrize(("air_c", "reversed_"), [(27.25, False), (27.0, False), (26.75, True)])
def test_a_fall_of_more_than_three_kelvin_since_full_power_began_is_too_much(air_c: float, reversed_: bool) -> None:
    assert falls(pushed(air_c, (100.0, 29.0), (60.0, 28.0), push_s=150.0)) is reversed_


@pytest.mark.parametrize(("push_s", "reversed_"), [(179.75, True), (180.0, False), (180.25, False)])
def test_from_three_minutes_on_the_fall_within_them_counts(push_s: float, reversed_: bool) -> None:
    """From 30 degC it is more than 3 K, from the 28 three minutes ago it is not."""
    watch = pushed(26.0, (180.0, 28.0), (60.0, 27.0), push_s=push_s)
    assert falls(watch) is reversed_
    assert falls(replace(watch, trail=course((179.0, 28.0), (60.0, 27.0))))


@pytest.mark.parametrize(("minute_ago_c", "falling"), [(26.25, False), (26.5, True), (26.75, True)])
def test_air_that_has_stopped_falling_was_a_door(minute_ago_c: float, falling: bool) -> None:
    assert falls(pushed(26.0, (60.0, minute_ago_c), push_s=150.0)) is falling


def test_without_push_air_or_a_minute_of_trail_nothing_falls() -> None:
    whole = pushed(26.0, (60.0, 28.0), push_s=150.0)
    assert falls(whole)
    for part in ({"push": None}, {"smooth_c": None}, {"trail": course((59.0, 28.0))}):
        assert not falls(replace(whole, **part))


# --- F6


def stands(
    *, since_s: float = 700.0, same_s: float = 700.0, off_s: float | None = 300.0, heated_s: float = 400.0,
    plant: Plant | None = None,
) -> str:  # fmt: skip
    off = None if off_s is None else Off(NOW - off_s, fan_on=True)
    watch = Watch(60.0, off=off, still=Still(60.0, NOW - since_s, 60.0, NOW - same_s, 0.0))
    return stands_still(watch, LIMITS, plant, heated_s=heated_s, now=NOW)


@pytest.mark.parametrize(("since_s", "said"), [(299.75, ""), (300.0, "doubtful"), (300.25, "doubtful")])
def test_after_half_of_ten_minutes_it_is_doubtful(since_s: float, said: str) -> None:
    assert stands(since_s=since_s, same_s=since_s, off_s=None) == said


@pytest.mark.parametrize(("same_s", "said"), [(299.75, ""), (300.0, "doubtful"), (300.25, "doubtful")])
def test_a_reading_that_trembles_within_a_tenth_is_not_doubted(same_s: float, said: str) -> None:
    assert stands(same_s=same_s, off_s=None) == said


@pytest.mark.parametrize(("since_s", "said"), [(599.75, "doubtful"), (600.0, "stuck"), (600.25, "stuck")])
def test_after_ten_minutes_it_is_stuck(since_s: float, said: str) -> None:
    assert stands(since_s=since_s, off_s=200.0) == said


@pytest.mark.parametrize(("off_s", "said"), [(129.75, "doubtful"), (130.0, "stuck"), (130.25, "stuck")])
def test_thirty_full_power_seconds_must_have_been_missed_after_the_after_heat(off_s: float, said: str) -> None:
    """At full power all the time before, 100 s of after-heat before tuning."""
    assert stands(off_s=off_s, heated_s=700.0 - off_s) == said


@pytest.mark.parametrize(("heated_s", "said"), [(59.75, "doubtful"), (60.0, "stuck"), (60.25, "stuck")])
def test_at_less_power_it_takes_longer(heated_s: float, said: str) -> None:
    """60 s of 400 are 15 %: 30 full-power seconds are missed after 200 s without after-heat."""
    assert stands(off_s=300.0, heated_s=heated_s) == said


@pytest.mark.parametrize(("off_s", "said"), [(38.5, "doubtful"), (38.75, "stuck")])
def test_a_tuned_chamber_falls_by_five_times_the_resolution_sooner(off_s: float, said: str) -> None:
    """0.5 K of the 128 K in 900 s: 3.52 s after its delay of 35."""
    assert stands(off_s=off_s, heated_s=700.0 - off_s, plant=PLANT) == said


def test_a_reading_that_need_not_move_is_alive() -> None:
    assert stands_still(FRESH, LIMITS, None, heated_s=9.0, now=NOW) == ""
    assert stands(heated_s=0.0) == ""
    assert stands(heated_s=1.0) == "doubtful"
    assert stands(off_s=700.0) == ""
    assert stands(off_s=699.75) == "stuck"
    watch = Watch(60.0, still=Still(60.0, NOW - 700.0, 60.0, NOW - 700.0, 400.0))
    assert stands_still(watch, LIMITS, None, heated_s=400.0, now=NOW) == ""


# --- F8


def spent(budget: Budget | None, off_s: float | None = None, plant: Plant | None = None) -> str:
    off = None if off_s is None else Off(NOW - off_s, fan_on=True)
    return spent_in_vain(Watch(70.0, budget=budget, off=off), LIMITS, plant, now=NOW)


@pytest.mark.parametrize(("spent_s", "said"), [(299.75, ""), (300.0, "vain"), (300.25, "vain")])
def test_five_minutes_of_full_power_are_the_budget(spent_s: float, said: str) -> None:
    assert spent(Budget(spent_s, 70.0)) == said
    assert spent(None) == ""


@pytest.mark.parametrize(("plant", "wait_s"), [(None, 190.0), (PLANT, 125.0)])
def test_put_to_the_test_it_is_in_vain_ninety_seconds_after_the_after_heat(plant: Plant | None, wait_s: float) -> None:
    testing = Budget(300.0, 70.0, 70.0)
    assert spent(testing, None, plant) == "doubtful"
    for off_s, said in ((wait_s - 0.25, "doubtful"), (wait_s, "vain"), (wait_s + 0.25, "vain")):
        assert spent(testing, off_s, plant) == said


# --- F12


@pytest.mark.parametrize(("air_c", "rises"), [(61.75, False), (62.0, False), (62.25, True)])
def test_more_than_two_kelvin_above_its_level_the_air_rises(air_c: float, rises: bool) -> None:
    watch = Watch(air_c, off=Off(NOW - 500.0, fan_on=True, level_c=60.0))
    assert rises_while_off(watch, LIMITS, air_c=air_c) is rises
    assert not rises_while_off(replace(watch, off=None), LIMITS, air_c=air_c)
    assert not rises_while_off(replace(watch, off=Off(NOW - 50.0, fan_on=True)), LIMITS, air_c=air_c)
