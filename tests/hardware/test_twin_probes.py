"""How sensors see: lag, delay, chance, resolution."""

from __future__ import annotations

import statistics
from math import exp

import pytest

from dryward_hardware.twin.model import TICK_S
from dryward_hardware.twin.probes import Chance, Channel, Delay, Lag


def channel(**options: float) -> Channel:
    return Channel(name="air", full_name="sim/air", value=lambda: 20.0, every=8, **options)  # type: ignore[arg-type]


def test_a_lag_follows_a_ramp_one_time_constant_behind() -> None:
    """Ramp response of a first order, textbook: r (t - tau + tau e^(-t/tau)); exact for steps of any length."""
    lag, rate, tau = Lag(30.0, 0.0), 0.5, 30.0
    t = 0.0
    for ticks in (1, 7, 20, 20, 3, 400):
        t += ticks * TICK_S
        lag.follow(rate * t, ticks)
        assert lag.now() == pytest.approx(rate * (t - tau + tau * exp(-t / tau)))


def test_no_lag_shows_the_value_at_once() -> None:
    lag = Lag(0.0, 5.0)
    lag.follow(9.0, 4)
    assert lag.now() == 9.0


def test_a_delay_gives_what_was_put_in_the_dead_time_ago() -> None:
    delay = Delay(0.0)
    seen = [delay.through(float(tick), tick, 40) for tick in range(10, 200, 10)]
    assert seen == [0.0, 0.0, 0.0, 0.0, *(float(tick - 40) for tick in range(50, 200, 10))]
    assert Delay(1.0).through(7.0, 3, 0) == 7.0


def test_a_delay_lies_straight_between_what_was_put_in() -> None:
    delay = Delay(10.0)
    assert delay.through(20.0, 10, 4) == pytest.approx(16.0)  # value at tick 6 of a line from 10 at 0 to 20 at 10


def test_a_delay_that_grows_holds_its_value_until_the_past_catches_up() -> None:
    delay = Delay(0.0)
    for tick in range(10, 110, 10):
        delay.through(float(tick), tick, 10)
    assert [delay.through(float(tick), tick, 40) for tick in range(110, 160, 10)] == [90.0, 90.0, 90.0, 100.0, 110.0]


def test_chance_depends_on_seed_tick_and_channel_only_and_is_normal() -> None:
    one, same, other = Chance(3), Chance(3), Chance(4)
    draws = [one.gauss(tick, 99) for tick in range(0, 100_000, 20)]
    assert draws == [same.gauss(tick, 99) for tick in range(0, 100_000, 20)]
    assert draws[:50] != [other.gauss(tick, 99) for tick in range(0, 1000, 20)]
    assert draws[:50] != [one.gauss(tick, 98) for tick in range(0, 1000, 20)]
    assert statistics.mean(draws) == pytest.approx(0.0, abs=0.06)
    assert statistics.stdev(draws) == pytest.approx(1.0, abs=0.06)
    shares = [one.uniform(tick, 5) for tick in range(0, 100_000, 20)]
    assert all(0.0 <= share < 1.0 for share in shares)
    assert statistics.mean(shares) == pytest.approx(0.5, abs=0.03)


def test_neighbouring_draws_are_not_alike() -> None:
    chance = Chance(1)
    draws = [chance.gauss(tick, 7) for tick in range(0, 200_000, 20)]
    assert statistics.correlation(draws[:-1], draws[1:]) == pytest.approx(0.0, abs=0.05)


def test_a_reading_is_cut_to_its_resolution_and_its_ends() -> None:
    chance = Chance(1)
    assert channel(per_step=10.0).shown(20.04, 0, chance) == 20.0
    assert channel(per_step=10.0).shown(20.06, 0, chance) == 20.1
    assert channel(high=100.0).shown(104.0, 0, chance) == 100.0
    assert channel(low=0.0).shown(-1.0, 0, chance) == 0.0


def test_noise_has_the_size_it_was_given() -> None:
    chance, noisy = Chance(2), channel(noise=0.1)
    shown = [noisy.shown(20.0, tick, chance) for tick in range(0, 40_000, 8)]
    assert statistics.stdev(shown) == pytest.approx(0.1, rel=0.05)
    assert noisy.last == shown[-1]
