"""Clocks that run against the meat, against the published limits."""

from __future__ import annotations

from collections.abc import Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dryward.science.clocks import (
    COLD_C,
    COME_UP_FROM_C,
    COME_UP_S,
    COME_UP_TO_C,
    COOLING_LOWER_S,
    COOLING_MIDDLE_C,
    COOLING_UPPER_S,
    HOT_C,
    Clocks,
    advance,
    seconds_within,
)

HOUR = 3600.0


def line(start_c: float, end_c: float, hours: float, *, begin_s: float = 0.0) -> list[tuple[float, float]]:
    return [
        (begin_s + minute * 60.0, start_c + (end_c - start_c) * minute / (hours * 60.0))
        for minute in range(round(hours * 60.0) + 1)
    ]


def run(readings: Sequence[tuple[float, float]], *, heating: bool, clocks: Clocks | None = None) -> Clocks:
    clocks = clocks or Clocks()
    for at_s, core_c in readings:
        clocks = advance(clocks, core_c=core_c, heating=heating, now=at_s)
    return clocks


@pytest.mark.parametrize(
    ("celsius", "fahrenheit"),
    [(COLD_C, 40.0), (HOT_C, 140.0), (COME_UP_FROM_C, 50.0), (COME_UP_TO_C, 130.0), (COOLING_MIDDLE_C, 80.0)],
)
def test_limits_are_those_of_the_sources(celsius: float, fahrenheit: float) -> None:
    """USDA danger zone 40-140 degF; FSIS-GD-2021-14 come-up 50-130 degF; FSIS Appendix B option 1 130, 80, 40 degF (as transcribed)."""
    assert celsius * 1.8 + 32.0 == pytest.approx(fahrenheit, abs=0.1)


def test_times_are_those_of_the_sources() -> None:
    assert (COME_UP_S, COOLING_UPPER_S, COOLING_LOWER_S) == (6 * HOUR, 1.5 * HOUR, 5 * HOUR)


def test_come_up_counts_between_10_and_54_4_degc_only() -> None:
    """A straight rise from 2 to 62 degC in 6 h spends 6 x 44.4/60 h there, and 6 x 55.6/60 h in the danger zone."""
    clocks = run(line(2.0, 62.0, 6.0), heating=True)
    assert clocks.come_up_s == pytest.approx(6 * HOUR * 44.4 / 60.0)
    assert clocks.danger_s == pytest.approx(6 * HOUR * 55.6 / 60.0)
    assert clocks.warmed
    assert clocks.come_up_ok


def test_a_dryer_that_never_warms_its_meat_runs_over_the_come_up() -> None:
    """The common case: 40 degC (the wet bulb of 80 degC air) for hours."""
    clocks = run([(0.0, 5.0), *line(40.0, 40.0, 7.0, begin_s=60.0)], heating=True)
    assert not clocks.warmed
    assert not clocks.come_up_ok


def test_come_up_time_adds_up_over_a_fall_back() -> None:
    clocks = run(line(20.0, 40.0, 1.0), heating=True)
    clocks = run(line(40.0, 8.0, 1.0, begin_s=HOUR), heating=True, clocks=clocks)
    assert clocks.come_up_s == pytest.approx(HOUR * (1.0 + 30.0 / 32.0))


@pytest.mark.parametrize(("upper_h", "lower_h", "kept"), [(1.4, 4.9, True), (1.6, 4.9, False), (1.4, 5.1, False)])
def test_cooling_is_held_against_appendix_b_option_1(upper_h: float, lower_h: float, kept: bool) -> None:
    warm = run([(0.0, 60.0), (1.0, 60.0)], heating=True)
    cooling = run(line(54.4, 26.7, upper_h, begin_s=2.0), heating=False, clocks=warm)
    cooling = run(line(26.7, 4.0, lower_h, begin_s=2.0 + upper_h * HOUR), heating=False, clocks=cooling)
    assert cooling.cooling_ok is kept
    assert cooling.cooled
    assert cooling.cooling_upper_s == pytest.approx(upper_h * HOUR, rel=0.01)


def test_nothing_cools_before_it_was_warm_and_new_heat_sets_cooling_back() -> None:
    cold = run(line(30.0, 5.0, 3.0), heating=False)
    assert cold.cooling_lower_s == 0.0
    warm = run([(0.0, 60.0), (1800.0, 40.0)], heating=False, clocks=Clocks(warmed=True))
    assert warm.cooling_upper_s > 0.0
    assert run([(1860.0, 45.0)], heating=True, clocks=warm).cooling_upper_s == 0.0


def test_once_cold_later_warmth_is_storage_not_cooling() -> None:
    cooled = run(line(60.0, 4.0, 3.0), heating=False, clocks=Clocks(warmed=True))
    later = run(line(4.0, 20.0, 5.0, begin_s=3 * HOUR), heating=False, clocks=cooled)
    assert later.cooling_lower_s == cooled.cooling_lower_s
    assert later.danger_s > cooled.danger_s


def test_a_gap_counts_in_full_where_the_core_may_have_been_in_the_zone() -> None:
    """Opposite to lethality: what is not known counts against."""
    assert run([(0.0, 65.0), (HOUR, 55.0)], heating=True).danger_s == HOUR
    assert run([(0.0, 65.0), (HOUR, 66.0)], heating=True).danger_s == 0.0
    assert run([(0.0, 65.0), (300.0, 55.0)], heating=True).danger_s == pytest.approx(150.0)


@given(st.floats(-10, 100), st.floats(-10, 100), st.floats(0.0, 1000.0), st.floats(0.0, 50.0), st.floats(0.1, 50.0))
def test_time_within_a_zone_is_part_of_the_time_and_the_same_both_ways(
    a: float, b: float, dt_s: float, low_c: float, wide: float
) -> None:
    inside = seconds_within(a, b, dt_s, low_c=low_c, high_c=low_c + wide)
    assert 0.0 <= inside <= dt_s * (1 + 1e-12)
    assert inside == seconds_within(b, a, dt_s, low_c=low_c, high_c=low_c + wide)


@given(
    st.lists(st.tuples(st.floats(0.0, 500.0), st.one_of(st.none(), st.floats(-10.0, 90.0)), st.booleans()), max_size=40)
)
def test_danger_and_come_up_never_run_back(steps: list[tuple[float, float | None, bool]]) -> None:
    clocks, at_s = Clocks(), 0.0
    for dt_s, core_c, heating in steps:
        at_s += dt_s
        after = advance(clocks, core_c=core_c, heating=heating, now=at_s)
        assert after.danger_s >= clocks.danger_s
        assert after.come_up_s >= clocks.come_up_s
        assert after.warmed >= clocks.warmed
        assert after.danger_s <= at_s
        clocks = after


def test_a_reversed_time_is_ignored() -> None:
    clocks = run([(0.0, 20.0), (60.0, 20.0)], heating=True)
    assert advance(clocks, core_c=20.0, heating=True, now=30.0) is clocks
