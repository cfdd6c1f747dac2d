"""What the guard remembers from one tick to the next, at its exact limits: door, trail, push, budget, off level, band, stillness."""

from __future__ import annotations

import pytest

from dryward.core.chamber import Limits, Plant
from dryward.core.watch import (
    DOOR_REST_S,
    FRESH,
    LEVEL_RISES_K_PER_S,
    MOVES_K,
    NOT_JUDGED,
    WEAK_MAINS,
    Band,
    Budget,
    Off,
    Push,
    Seen,
    Still,
    Watch,
    blind,
    follow,
)

NOW, LIMITS = 10_000.0, Limits()
PLANT = Plant(gain_k=128.0, time_constant_s=900.0, dead_time_s=20.0, lag_s=15.0)


def after(watch: Watch, air_c: float, *, plant: Plant | None = None, dt_s: float = 1.0, **more: object) -> Watch:
    """One tick at full power towards 80 degC in a room of 22, unless told otherwise."""
    whole: dict[str, object] = {
        "hot_c": air_c, "room_c": 22.0, "setpoint_c": 80.0, "target_c": 80.0, "duty": 1.0, "heater_on": True, "fan_on": True,
        "heated_s": 0.0, "door_open": False, "door_fitted": False,
    }  # fmt: skip
    return follow(watch, LIMITS, plant, Seen(air_c=air_c, **(whole | more)), dt_s=dt_s, now=NOW)  # type: ignore[arg-type]


def trail(minute_ago_c: float, just_now_c: float | None = None) -> tuple[tuple[float, float], ...]:
    """The air a minute ago and twenty seconds ago."""
    return ((NOW - 60.0, minute_ago_c), (NOW - 20.0, minute_ago_c if just_now_c is None else just_now_c))


# --- door


@pytest.mark.parametrize(("rest_s", "quiet"), [(0.25, True), (0.0, False), (-0.25, False)])
def test_after_a_door_nothing_but_too_hot_is_judged_for_five_minutes(rest_s: float, quiet: bool) -> None:
    watch = after(Watch(quiet_until_s=NOW + rest_s), 60.0)
    assert (watch.trail == ()) is quiet
    assert (watch.smooth_c is None) is quiet
    assert watch.quiet_until_s == NOW + rest_s


def test_an_open_door_begins_the_five_minutes_anew_and_forgets_the_level() -> None:
    known = Watch(60.0, trail(60.0), off=Off(NOW - 500.0, fan_on=True, level_c=60.0), band=Band(80.0, been_in=True))
    watch = after(known, 60.0, door_open=True, heater_on=False)
    assert watch.quiet_until_s == NOW + DOOR_REST_S
    assert watch.off == Off(NOW - 500.0, fan_on=True)
    assert not watch.band.been_in


# --- the smoothed air and its trail


def test_the_air_is_smoothed_over_ten_seconds() -> None:
    assert after(FRESH, 70.0).smooth_c == 70.0
    assert after(Watch(60.0), 70.0).smooth_c == 61.0
    assert after(Watch(60.0), 50.0).smooth_c == 59.0
    assert after(Watch(60.0), 70.0, dt_s=20.0).smooth_c == 70.0


@pytest.mark.parametrize(("age_s", "added"), [(19.75, False), (20.0, True), (20.25, True)])
def test_every_twenty_seconds_a_value_is_kept(age_s: float, added: bool) -> None:
    watch = after(Watch(60.0, ((NOW - age_s, 59.0),)), 60.0)
    assert watch.trail == ((NOW - age_s, 59.0), (NOW, 60.0))[: 2 if added else 1]
    assert after(Watch(60.0), 60.0).trail == ((NOW, 60.0),)


def test_the_trail_reaches_back_as_far_as_the_longest_window_and_one_value_more() -> None:
    old = tuple((NOW - t, t) for t in (200.25, 200.0, 199.75, 20.0))
    assert [t for t, _ in after(Watch(60.0, old), 60.0).trail] == [NOW - 200.0, NOW - 199.75, NOW - 20.0, NOW]


# --- full power


@pytest.mark.parametrize(("duty", "full"), [(0.9375, False), (0.95, True), (1.0, True)])
def test_full_power_begins_at_95_per_cent_and_remembers_what_was_given_before(duty: float, full: bool) -> None:
    assert after(Watch(60.0, duty=0.5), 60.0, duty=duty).push == (Push(NOW, 60.0, 0.5) if full else None)
    held = Push(NOW - 50.0, 55.0, 0.25)
    assert after(Watch(60.0, push=held), 60.0, duty=duty).push == (held if full else None)


def test_full_power_ends_with_the_heater_and_what_it_had_is_known_for_later() -> None:
    off = after(Watch(60.0, push=Push(NOW - 50.0, 55.0), duty=0.75), 60.0, heater_on=False)
    assert off.push is None
    assert off.duty == 0.75
    assert after(Watch(60.0, duty=0.75), 60.0, duty=0.5).duty == 0.5
    begun = after(Watch(60.0, duty=1.0), 60.0).push
    assert begun is not None
    assert begun.share == 0.95


# --- F8: the budget


def budget(was: Budget | None, air_c: float, **more: object) -> Budget | None:
    return after(Watch(air_c, budget=was), air_c, **more).budget  # type: ignore[arg-type]


@pytest.mark.parametrize(("air_c", "counted"), [(79.75, True), (80.0, False), (80.25, False)])
def test_below_the_setpoint_full_power_is_counted(air_c: float, counted: bool) -> None:
    assert budget(None, air_c) == (Budget(0.0, air_c) if counted else None)
    assert budget(None, air_c, setpoint_c=None) is None


@pytest.mark.parametrize(("air_c", "counted"), [(78.75, True), (79.0, False), (79.25, False)])
def test_less_than_full_power_counts_only_further_than_a_kelvin_below(air_c: float, counted: bool) -> None:
    assert budget(None, air_c, duty=0.9375) == (Budget(0.0, air_c) if counted else None)
    assert budget(None, air_c, duty=0.95) == Budget(0.0, air_c)


@pytest.mark.parametrize(
    ("air_c", "spent"), [(70.75, Budget(51.0, 70.0)), (71.0, Budget(0.0, 71.0)), (71.25, Budget(0.0, 71.25))]
)
def test_a_rise_of_one_kelvin_clears_the_budget(air_c: float, spent: Budget) -> None:
    assert budget(Budget(50.0, 70.0), air_c) == spent
    assert budget(Budget(50.0, 70.0), 69.0) == Budget(51.0, 69.0)


def test_only_time_with_the_heater_on_is_spent() -> None:
    assert budget(Budget(50.0, 70.0), 70.0, heater_on=False) == Budget(50.0, 70.0)


def test_less_than_full_power_counts_by_what_is_more_than_the_air_needs_to_stay() -> None:
    """80 K is what full power holds before tuning with weak mains, 0.64 of the gain after it."""
    assert budget(Budget(50.0, 42.0), 42.0, duty=0.5) == Budget(50.0 + 1.0 - 20.0 / 80.0, 42.0)
    tuned = budget(Budget(50.0, 42.0), 42.0, duty=0.5, plant=PLANT)
    assert tuned == Budget(50.0 + 1.0 - 20.0 / (WEAK_MAINS * 128.0), 42.0)
    assert budget(Budget(50.0, 42.0), 42.0, duty=0.5, heater_on=False) == Budget(49.75, 42.0)
    assert budget(Budget(0.125, 42.0), 42.0, duty=0.5, heater_on=False) == Budget(0.0, 42.0)
    assert budget(Budget(-600.0, 42.0), 42.0, duty=0.5, heater_on=False) == Budget(-600.0, 42.0)


@pytest.mark.parametrize(("air_c", "fell"), [(69.25, False), (69.0, True), (68.75, True)])
def test_air_that_falls_a_kelvin_without_heat_was_kept_there_by_heat(air_c: float, fell: bool) -> None:
    testing = Budget(300.0, 69.5, 70.0)
    assert budget(testing, air_c) == (Budget(-600.0, air_c) if fell else testing)


@pytest.mark.parametrize(("spent_s", "tested"), [(298.75, False), (299.0, True), (299.25, True)])
def test_five_minutes_of_full_power_put_hot_air_to_the_test(spent_s: float, tested: bool) -> None:
    """The tick adds its second."""
    found = after(Watch(70.0, trail(70.0), budget=Budget(spent_s, 70.0)), 70.0).budget
    assert found == Budget(spent_s + 1.0, 70.0, 70.0 if tested else None)


@pytest.mark.parametrize(("air_c", "tested"), [(31.75, False), (32.0, True), (32.25, True)])
def test_only_air_ten_kelvin_above_the_room_is_kept_there_by_heat(air_c: float, tested: bool) -> None:
    found = after(Watch(air_c, trail(air_c), budget=Budget(300.0, air_c)), air_c).budget
    assert found is not None
    assert (found.test_c is not None) is tested


@pytest.mark.parametrize(
    ("air_c", "minute_ago_c", "tested"),
    [(70.0, 70.25, True), (70.0 - MOVES_K, 70.0, True), (70.0, 70.375, False), (70.0, None, False)],
)
def test_air_that_is_falling_needs_no_test(air_c: float, minute_ago_c: float | None, tested: bool) -> None:
    past = () if minute_ago_c is None else trail(minute_ago_c)
    found = after(Watch(air_c, past, budget=Budget(300.0, air_c)), air_c).budget
    assert found is not None
    assert (found.test_c is not None) is tested


# --- F12: the level while the heater is off


@pytest.mark.parametrize(("plant", "wait_s"), [(None, 100.0), (PLANT, 60.0)])
def test_the_level_begins_when_the_after_heat_is_over(plant: Plant | None, wait_s: float) -> None:
    for off_s, begun in ((wait_s - 0.25, False), (wait_s, True), (wait_s + 0.25, True)):
        known = Watch(60.0, off=Off(NOW - off_s, fan_on=True))
        watch = after(known, 60.0, heater_on=False, plant=plant)
        assert watch.off == Off(NOW - off_s, fan_on=True, level_c=60.0 if begun else None)


def level(air_c: float, *, fitted: bool, dt_s: float = 1.0) -> float | None:
    known = Watch(air_c, off=Off(NOW - 500.0, fan_on=True, level_c=60.0))
    off = after(known, air_c, heater_on=False, door_fitted=fitted, dt_s=dt_s).off
    assert off is not None
    assert (off.since_s, off.fan_on) == (NOW - 500.0, True)
    return off.level_c


def test_the_level_follows_down_at_once_with_a_door_switch_and_in_ten_minutes_without() -> None:
    assert level(58.0, fitted=True) == 58.0
    assert level(58.0, fitted=False) == 60.0 - 2.0 / 600.0
    assert level(58.0, fitted=False, dt_s=700.0) == 58.0


@pytest.mark.parametrize("fitted", [True, False])
def test_the_level_rises_no_faster_than_a_room_warms(fitted: bool) -> None:
    assert level(61.0, fitted=fitted) == 60.0 + LEVEL_RISES_K_PER_S
    assert level(60.0, fitted=fitted) == 60.0
    assert level(60.0 + LEVEL_RISES_K_PER_S / 2.0, fitted=fitted) == 60.0 + LEVEL_RISES_K_PER_S / 2.0


def test_heat_or_a_fan_that_starts_or_stops_begins_the_wait_anew() -> None:
    known = Watch(60.0, off=Off(NOW - 500.0, fan_on=True, level_c=60.0))
    assert after(known, 60.0).off is None
    assert after(known, 60.0, heater_on=False, fan_on=False).off == Off(NOW, fan_on=False)
    assert after(FRESH, 60.0, heater_on=False).off == Off(NOW, fan_on=True)


def test_without_a_reading_budget_band_door_and_the_level_stay() -> None:
    known = Watch(
        60.0, trail(60.0), Push(1.0, 2.0), Budget(5.0, 60.0), Off(NOW - 500.0, fan_on=True, level_c=60.0),
        Band(80.0, been_in=True), Still(60.0, 1.0, 60.0, 1.0, 0.0), 0.5, NOW - 1.0,
    )  # fmt: skip
    left = Watch(budget=known.budget, off=known.off, band=known.band, quiet_until_s=NOW - 1.0)
    assert blind(known, heater_on=False, fan_on=True, now=NOW) == left


# --- F9: below the band


def band(was: Band, air_c: float, past: tuple[tuple[float, float], ...] = (), **more: object) -> Band:
    """The band after a tick; the smoothed air is the air."""
    return after(Watch(air_c, past or trail(air_c), band=was), air_c, **more).band  # type: ignore[arg-type]


IN = Band(80.0, been_in=True, armed=True)


def test_without_a_setpoint_nothing_is_judged() -> None:
    assert band(IN, 60.0, setpoint_c=None) == NOT_JUDGED


@pytest.mark.parametrize(("air_c", "ks"), [(75.25, 0.0), (75.0, 0.0), (74.75, 105.25), (70.0, 110.0)])
def test_more_than_five_kelvin_below_is_counted(air_c: float, ks: float) -> None:
    assert band(Band(80.0, been_in=True, below_ks=100.0, armed=True), air_c).below_ks == ks


@pytest.mark.parametrize(("air_c", "been_in"), [(78.75, False), (79.0, True), (81.0, True), (81.25, False)])
def test_a_kelvin_from_the_setpoint_is_in_the_band(air_c: float, been_in: bool) -> None:
    assert band(Band(80.0, armed=True), air_c) == Band(80.0, been_in=been_in, armed=True)
    assert band(Band(80.0, armed=True), 60.0).below_ks == 0.0


@pytest.mark.parametrize(
    ("was_c", "counts"), [(79.25, True), (79.0, True), (78.75, False), (81.0, True), (None, False)]
)
def test_after_the_setpoint_was_raised_the_air_has_first_to_get_there(was_c: float | None, counts: bool) -> None:
    after_it = band(Band(was_c, been_in=True, below_ks=5.0, armed=True), 70.0)
    assert after_it.been_in is counts
    assert after_it.below_ks == (15.0 if counts else 0.0)


def test_the_band_goes_with_a_setpoint_that_moves_a_little() -> None:
    assert band(Band(79.5, been_in=True, armed=True), 80.0) == IN
    assert band(IN, 80.0) == IN


def test_an_open_door_takes_the_band_away_unless_the_air_is_in_it() -> None:
    assert not band(IN, 60.0, door_open=True).been_in
    assert band(IN, 79.5, door_open=True).been_in


@pytest.mark.parametrize(
    ("past", "ks"),
    [
        (trail(70.0), 15.0),
        (trail(69.625), 5.0),
        (trail(69.75, 69.75), 15.0),
        (trail(69.0, 70.0), 5.0),
        (trail(70.0, 69.0), 5.0),
        (((NOW - 20.0, 69.0),), 5.0),
        (((NOW - 20.0, 71.0),), 15.0),
    ],
)
def test_air_on_its_way_up_is_not_counted(past: tuple[tuple[float, float], ...], ks: float) -> None:
    """Risen by more than 0.3 K within the last minute or the last twenty seconds."""
    counted = band(Band(80.0, been_in=True, below_ks=5.0, armed=True), 70.0, past).below_ks
    assert counted == ks


def test_a_rise_of_exactly_what_noise_makes_is_none() -> None:
    lower_c = 69.0
    assert band(Band(80.0, been_in=True, armed=True), lower_c + MOVES_K, trail(lower_c)).below_ks > 0.0


@pytest.mark.parametrize(("air_c", "ks"), [(54.75, 5.25), (55.0, 0.0), (70.0, 0.0)])
def test_on_a_ramp_down_the_air_may_be_where_it_is_going_to(air_c: float, ks: float) -> None:
    assert band(IN, air_c, target_c=60.0).below_ks == ks


@pytest.mark.parametrize(("air_c", "ks"), [(74.75, 5.25), (75.0, 0.0)])
def test_on_a_ramp_up_the_setpoint_counts_below(air_c: float, ks: float) -> None:
    assert band(IN, air_c, target_c=90.0).below_ks == ks
    assert band(IN, air_c, target_c=None).below_ks == ks


# --- F10: above the setpoint


@pytest.mark.parametrize(("hot_c", "over"), [(84.75, False), (85.0, False), (85.25, True)])
def test_more_than_five_kelvin_above_is_counted_and_the_hotter_sensor_counts(hot_c: float, over: bool) -> None:
    assert band(IN, 80.0, hot_c=hot_c) == (Band(80.0, True, 0.0, True, NOW, 1.0) if over else IN)
    since = Band(80.0, True, 0.0, True, NOW - 9.0, 9.0)
    assert band(since, 80.0, hot_c=hot_c) == (Band(80.0, True, 0.0, True, NOW - 9.0, 10.0) if over else IN)


@pytest.mark.parametrize(
    ("was", "over"),
    [
        (Band(80.0, armed=True), True),
        (Band(80.0), False),
        (Band(None, armed=True), False),
        (Band(79.75, armed=True), True),
        (Band(80.25, armed=True), False),
    ],
)
def test_only_air_that_has_once_been_down_at_its_setpoint_is_above_it(was: Band, over: bool) -> None:
    """A lower setpoint than before has to be reached first."""
    found = band(was, 86.0)
    assert found.armed is over
    assert (found.over_since_s is not None) is over


def test_coming_down_arms_it() -> None:
    assert band(Band(80.0), 84.0).armed


@pytest.mark.parametrize(
    ("minute_ago_c", "over_s"), [(86.0, 2.0), (86.25, 2.0), (86.0 + MOVES_K + 0.01, 1.0), (86.5, 1.0), (85.0, 2.0)]
)
def test_above_and_coming_down_costs_the_heat_and_does_not_count_towards_the_trip(
    minute_ago_c: float, over_s: float
) -> None:
    found = band(Band(80.0, True, 0.0, True, NOW - 1.0, 1.0), 86.0, trail(minute_ago_c))
    assert found == Band(80.0, True, 0.0, True, NOW - 1.0, over_s)


def test_a_fall_of_exactly_what_noise_makes_is_none() -> None:
    found = band(Band(80.0, True, 0.0, True, NOW - 1.0, 1.0), 87.0 - MOVES_K, trail(87.0))
    assert found.over_s == 2.0


def test_without_a_minute_of_trail_all_of_it_counts() -> None:
    assert band(Band(80.0, True, 0.0, True, NOW - 1.0, 1.0), 86.0, ((NOW - 20.0, 90.0),)).over_s == 2.0


@pytest.mark.parametrize(("air_c", "over_s"), [(94.75, 1.0), (95.0, 1.0), (95.25, 2.0)])
def test_on_a_ramp_up_only_what_is_above_its_end_counts_towards_the_trip(air_c: float, over_s: float) -> None:
    found = band(Band(80.0, False, 0.0, True, NOW - 1.0, 1.0), air_c, target_c=90.0)
    assert found.over_s == over_s
    assert found.over_since_s == NOW - 1.0


def test_on_a_ramp_down_the_setpoint_counts_above() -> None:
    assert band(Band(80.0, False, 0.0, True, NOW - 1.0, 1.0), 85.25, target_c=60.0).over_s == 2.0


# --- F6: a reading that stands still


@pytest.mark.parametrize(
    ("air_c", "moved"), [(60.0, False), (60.0625, False), (60.1, False), (60.125, True), (59.875, True)]
)
def test_a_tenth_of_a_kelvin_is_no_move(air_c: float, moved: bool) -> None:
    """The sensor's resolution: exactly a tenth is none, for all that 60.1 - 60.0 is a little more than 0.1 in a computer."""
    was = Still(60.0, NOW - 99.0, 60.0, NOW - 50.0, 7.0)
    still = after(Watch(60.0, still=was), air_c, heated_s=9.0).still
    if moved:
        assert still == Still(air_c, NOW, air_c, NOW, 9.0)
    else:
        assert still == (was if air_c == 60.0 else Still(60.0, NOW - 99.0, air_c, NOW, 7.0))


def test_what_counts_as_no_move_ends_a_billionth_above_a_tenth() -> None:
    still = after(Watch(0.0, still=Still(0.0, NOW - 99.0, 0.0, NOW - 50.0, 7.0)), LIMITS.stuck_k + 1e-9).still
    assert still is not None
    assert still.since_s == NOW - 99.0


def test_the_first_reading_begins_it() -> None:
    assert after(FRESH, 60.0, heated_s=9.0).still == Still(60.0, NOW, 60.0, NOW, 9.0)
