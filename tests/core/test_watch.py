"""The windows behind F6 to F13: each judged on a short, made-up course of the air."""

from __future__ import annotations

from dryward.core.chamber import Limits, Plant
from dryward.core.watch import (
    FRESH,
    Seen,
    Watch,
    after_heat_s,
    blind,
    falls_at_full_power,
    follow,
    no_response,
    off_wait_s,
    rises_while_off,
    value_before,
)

LIMITS = Limits()
ROOM_C = 22.0


def seen(air_c: float, **more: object) -> Seen:
    whole: dict[str, object] = {
        "hot_c": air_c, "room_c": ROOM_C, "setpoint_c": 80.0, "target_c": 80.0, "duty": 1.0, "heater_on": True, "fan_on": True,
        "heated_s": 0.0, "door_open": False, "door_fitted": False,
    }  # fmt: skip
    return Seen(air_c=air_c, **(whole | more))  # type: ignore[arg-type]


def run(start_c: float, k_per_s: float, seconds: int, watch: Watch = FRESH, since: int = 0, **more: object) -> Watch:
    for t in range(1, seconds + 1):
        watch = follow(watch, LIMITS, None, seen(start_c + k_per_s * t, **more), dt_s=1.0, now=float(since + t))
    return watch


def test_the_trail_is_read_backwards() -> None:
    trail = ((0.0, 20.0), (20.0, 21.0), (40.0, 23.0))
    assert value_before(trail, 40.0) == 23.0
    assert value_before(trail, 39.0) == 21.0
    assert value_before(trail, -1.0) is None


def test_full_power_without_an_answer_is_found_within_three_minutes_and_a_slow_answer_is_none() -> None:
    """Fault contract F7: 60 to 180 s."""
    dead = run(22.0, 0.0, 180)
    assert no_response(dead, LIMITS, None, room_c=ROOM_C, now=180.0)
    alive = run(22.0, 0.03, 180)  # 3.6 K in two minutes
    assert not no_response(alive, LIMITS, None, room_c=ROOM_C, now=180.0)


def test_full_power_spent_without_a_rise_is_counted_and_a_rise_clears_it() -> None:
    """Fault contract F8."""
    stuck = run(70.0, 0.0, 310)
    assert stuck.budget is not None
    assert stuck.budget.spent_s >= 300.0
    rising = run(60.0, 0.02, 310)
    assert rising.budget is not None
    assert rising.budget.spent_s < 60.0


def test_air_fallen_out_of_its_band_is_counted_in_kelvin_seconds() -> None:
    """Fault contract F9: 5 K for two minutes are 600."""
    watch = run(80.0, 0.0, 60)
    watch = run(74.0, 0.0, 130, watch, since=60)
    assert watch.band.below_ks >= 600.0
    assert run(79.0, 0.0, 5, watch, since=190).band.below_ks == 0.0


def test_a_welded_contact_is_found_and_after_heat_is_not() -> None:
    """Fault contract F12."""
    watch = run(60.0, 0.0, 30)
    off = {"heater_on": False, "duty": 0.0}
    watch = run(60.0, 0.01, 99, watch, since=30, **off)  # 1 K of after-heat
    assert not rises_while_off(watch, LIMITS, air_c=61.0)
    watch = run(61.0, 0.03, 80, watch, since=129, **off)
    assert rises_while_off(watch, LIMITS, air_c=63.4)


def test_air_that_falls_at_full_power_is_found_in_three_minutes() -> None:
    """Fault contract F13."""
    watch = run(60.0, -0.03, 180)
    assert falls_at_full_power(watch, LIMITS, now=180.0)
    assert not falls_at_full_power(run(60.0, 0.01, 180), LIMITS, now=180.0)


def test_an_open_door_begins_every_window_anew() -> None:
    watch = run(60.0, 0.0, 100)
    watch = follow(watch, LIMITS, None, seen(55.0, door_open=True), dt_s=1.0, now=101.0)
    assert watch.push is None
    assert watch.trail == ()
    assert watch.quiet_until_s > 101.0


def test_without_a_reading_where_the_air_is_has_to_be_found_anew() -> None:
    watch = blind(run(60.0, 0.0, 100), heater_on=True, fan_on=True, now=101.0)
    assert watch.push is None
    assert watch.smooth_c is None


def test_the_wait_for_after_heat_is_that_of_the_tuned_chamber() -> None:
    plant = Plant(gain_k=100.0, time_constant_s=900.0, dead_time_s=120.0)
    assert after_heat_s(plant) == plant.delay_s
    assert off_wait_s(LIMITS, plant) >= 120.0
    assert off_wait_s(LIMITS, None) >= LIMITS.off_rise_s
