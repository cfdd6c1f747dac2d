"""How much faster a piece dries in other air."""

from __future__ import annotations

import math

import pytest

from dryward.science.pace import LIMITS, MIDDLE, AirAt, Limit, averaged, complete, gains, log_power, power, varied

HOT = power(AirAt(t_s=0.0, air_c=80.0, rh_pct=10.0))
MILD = power(AirAt(t_s=0.0, air_c=55.0, rh_pct=25.0))


@pytest.mark.parametrize("limit", LIMITS)
def test_hotter_and_drier_air_dries_faster_whatever_limits_it(limit: Limit) -> None:
    assert log_power(HOT, MILD, limit) > 0.0
    assert log_power(HOT, HOT, limit) == 0.0
    assert log_power(MILD, HOT, limit) == pytest.approx(-log_power(HOT, MILD, limit))


def test_inside_the_temperature_counts_by_arrhenius() -> None:
    """exp(Ea / R (1/T1 - 1/T2)); Ea 42.9 kJ/mol for beef in hot air (Ismail and Kocabay 2018)."""
    expected = 42.9e3 / 8.314 * (1.0 / 328.15 - 1.0 / 353.15)
    assert log_power(HOT, MILD, Limit(42.9, 0.0, 1.0)) == pytest.approx(expected, rel=1e-9)


def test_missing_humidity_is_that_of_the_vapour_last_known() -> None:
    known = [AirAt(t_s=0.0, air_c=60.0, rh_pct=20.0)]
    (filled,) = complete([AirAt(t_s=1.0, air_c=80.0)], known)
    assert filled.rh_pct is not None
    assert 5.0 < filled.rh_pct < 15.0  # the same vapour in hotter air
    (room,) = complete([AirAt(t_s=1.0, air_c=80.0)])
    assert room.rh_pct == pytest.approx(2.5, abs=0.5)


def test_a_long_log_is_averaged_and_a_short_one_stays() -> None:
    log = [AirAt(t_s=float(i), air_c=20.0 + i % 2) for i in range(1000)]
    short = averaged(log)
    assert len(short) <= 120
    assert all(air.air_c == pytest.approx(20.5, abs=0.1) for air in short[:-1])  # the last group is shorter
    assert averaged(log[:5]) == log[:5]


def test_time_counts_for_more_in_stronger_air() -> None:
    sampled = [0.0, 3600.0]
    even = gains([0.0, 1800.0, 3600.0], sampled, [MILD, MILD], MILD, MIDDLE)
    assert even == pytest.approx([1800.0, 1800.0])
    hotter = gains([0.0, 1800.0, 3600.0], sampled, [HOT, HOT], MILD, MIDDLE)
    assert hotter[0] == pytest.approx(1800.0 * math.exp(log_power(HOT, MILD, MIDDLE)))


def test_steady_air_tells_nothing_of_what_limits() -> None:
    assert not varied([HOT, HOT])
    assert varied([HOT, MILD])
