"""Figures of the heat loop: the published tuning rules, the filter that follows the air."""

from __future__ import annotations

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dryward.core.chamber import Control, Plant
from dryward.core.heat_state import followed, loop_figures, share, simc


@pytest.mark.parametrize(("closed_s", "kc", "ti_s"), [(45.0, 0.0833333, 360.0), (135.0, 0.0416667, 600.0)])
def test_the_published_rules_give_the_published_figures(closed_s: float, kc: float, ti_s: float) -> None:
    """Skogestad 2003, worked for gain 80 K, time constant 600 s, dead time 45 s: tight (the dead time) and smooth (three of it)."""
    assert simc(gain_k=80.0, time_constant_s=600.0, delay_s=45.0, closed_s=closed_s) == pytest.approx(
        (kc, ti_s), rel=1e-5
    )


def test_calm_is_gentler_than_tight_and_brisk_is_tight() -> None:
    plant = Plant(gain_k=128.0, time_constant_s=900.0, dead_time_s=20.0, lag_s=15.0)
    calm = loop_figures(Control(plant=plant), plant)
    tight = loop_figures(Control(plant=plant, pace="tight"), plant)
    assert calm[0] < tight[0]
    assert loop_figures(Control(plant=plant), plant, brisk=True) == tight


def test_a_longer_cycle_means_a_gentler_loop() -> None:
    """The cycle is part of the delay."""
    plant = Plant(gain_k=128.0, time_constant_s=900.0, dead_time_s=20.0)
    assert loop_figures(Control(cycle_s=120.0), plant)[0] < loop_figures(Control(cycle_s=40.0), plant)[0]


def test_a_straight_rise_is_followed_without_lag() -> None:
    trace = None
    for tick in range(300):
        trace = followed(trace, 20.0 + 0.05 * tick, 1.0)
    assert trace is not None
    assert trace.level_c == pytest.approx(20.0 + 0.05 * 299, abs=0.01)
    assert trace.slope_k_per_s == pytest.approx(0.05, rel=0.001)


def test_noise_of_a_tenth_hardly_reaches_the_slope() -> None:
    """A slope error of 0.002 K/s is a tenth of a kelvin over a delay of 50 s."""
    chance = random.Random(3)
    trace, slopes = None, []
    for _ in range(3000):
        trace = followed(trace, 60.0 + chance.gauss(0.0, 0.1), 2.0)
        slopes.append(trace.slope_k_per_s)
    late = slopes[200:]
    assert (sum(s * s for s in late) / len(late)) ** 0.5 < 0.002


def test_air_that_turns_is_followed_within_seconds() -> None:
    """It fell with the door open and now rises at half a kelvin a second; smoothed evenly it would seem to fall still."""
    trace = None
    for tick in range(60):
        trace = followed(trace, 70.0 - 0.3 * tick, 1.0)
    for tick in range(20):
        trace = followed(trace, 52.0 + 0.5 * tick, 1.0)
    assert trace is not None
    assert trace.level_c == pytest.approx(61.5, abs=2.0)
    assert trace.slope_k_per_s > 0.15


def test_a_value_that_only_stands_is_no_sample() -> None:
    """Reads that fail leave the last value standing; the air goes on rising meanwhile."""
    trace = None
    for tick in range(300):
        sampled_s = 3 * (tick // 3)
        trace = followed(trace, 20.0 + 0.05 * sampled_s, 1.0, float(sampled_s))
    assert trace is not None
    assert trace.level_c == pytest.approx(20.0 + 0.05 * 299, abs=0.02)
    assert trace.slope_k_per_s == pytest.approx(0.05, rel=0.01)
    kept = followed(trace, 99.0, 1.0, trace.sampled_s)
    assert kept.level_c == pytest.approx(trace.level_c + trace.slope_k_per_s)
    assert kept.slope_k_per_s == trace.slope_k_per_s


@given(st.floats(allow_nan=False))
def test_a_share_stays_within_its_ends(x: float) -> None:
    assert 0.0 <= share(x) <= 1.0
