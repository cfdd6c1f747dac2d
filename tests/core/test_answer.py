"""The chamber's answer to its heater: heard in the ripple, silent while all is well, naming what has changed."""

from __future__ import annotations

import cmath
import random
from math import pi

import pytest

from dryward.core.alarms import update
from dryward.core.answer import Answer, Verdict, compared, conditions, disturbed, listened, powered, wave
from dryward.core.chamber import Control, Plant

PLANT = Plant(gain_k=128.0, time_constant_s=900.0, dead_time_s=20.0, lag_s=15.0)
CONTROL = Control(plant=PLANT, cycle_s=40.0)


def heard(
    answer: Answer,
    hours: float,
    *,
    strength: float = 1.0,
    later_s: float = 0.0,
    noise_k: float = 0.0,
    duty: float = 0.45,
    seed: int = 1,
) -> Answer:
    """Let a plant of that strength and further delay ripple for some hours, as its first Fourier term would be read."""
    chance = random.Random(seed)
    w = 2.0 * pi / 40.0
    for _ in range(int(hours * 90)):
        given_s = round(duty * 40.0)
        heat = sum(cmath.exp(-1j * w * n) for n in range(given_s))
        plant = (
            PLANT.gain_k
            * strength
            * cmath.exp(-1j * w * (PLANT.dead_time_s + later_s))
            / ((1 + 1j * w * 900.0) * (1 + 1j * w * 15.0))
        )
        term = plant * heat + complex(chance.gauss(0.0, 1.0), chance.gauss(0.0, 1.0)) * noise_k * 40.0 / 40**0.5
        answer = listened(
            answer, CONTROL, PLANT, re=term.real, im=term.imag, given_s=given_s, length_s=40.0, tick_s=1.0
        )
    return answer


def test_a_sine_in_the_reading_is_found() -> None:
    """0.3 K of cosine over one cycle: half of it times the length is the Fourier term (by definition)."""
    re = im = 0.0
    for second in range(1, 41):
        angle = 2.0 * pi * second / 40.0
        a, b = wave(float(second), 40.0, -0.3 * cmath.cos(angle).real, 1.0)
        re, im = re + a, im + b
    assert (re, im) == pytest.approx((0.3 * 40.0 / 2.0, 0.0), abs=1e-9)


def happened(answer: Answer) -> str:
    """What a person is told of it."""
    (alarm,) = update((), conditions(answer), 0.0).alarms
    return alarm.say()[0]


def test_a_steady_chamber_stays_its_own_measure() -> None:
    answer = heard(Answer(), 10.0)
    assert compared(answer) == pytest.approx((1.0, 0.0), abs=1e-6)
    assert conditions(answer) == ()


def test_noise_alone_says_nothing_in_a_week() -> None:
    assert heard(Answer(), 168.0, noise_k=0.1).verdict == ""


@pytest.mark.parametrize(
    ("strength", "later_s", "verdict", "words"),
    [
        (0.6, 0.0, "heater-weaker", "heater is not what it was: it warms the air with 61 %"),
        (0.6, 5.0, "air-slower", "fan seems to be failing: heat reaches the sensor 5 s later"),
        (1.6, 0.0, "heater-stronger", "with 160 %"),
        (1.0, -4.0, "sensor-nearer", "sensor 4 s earlier"),
    ],
)
def test_a_change_is_named_and_taken_back_when_it_is_over(
    strength: float, later_s: float, verdict: Verdict, words: str
) -> None:
    well = heard(Answer(), 4.0, noise_k=0.05)
    ill = heard(well, 5.0, strength=strength, later_s=later_s, noise_k=0.05)
    assert ill.verdict == verdict
    assert words in happened(ill)
    assert heard(ill, 12.0, noise_k=0.05).verdict == ""


@pytest.mark.parametrize("strength", [0.88, 1.12])
def test_a_wandering_mains_voltage_is_no_change(strength: float) -> None:
    """6 % of voltage are 12 % of heat."""
    assert heard(heard(Answer(), 4.0), 24.0, strength=strength, noise_k=0.05).verdict == ""


def test_a_single_odd_hour_is_no_change() -> None:
    assert heard(heard(Answer(), 4.0), 0.5, strength=0.3).verdict == ""


def test_another_tuning_or_cycle_begins_anew() -> None:
    answer = heard(Answer(), 4.0)
    other = Control(plant=PLANT, cycle_s=60.0)
    for _ in range(2):
        answer = listened(answer, other, PLANT, re=1.0, im=0.0, given_s=27.0, length_s=60.0, tick_s=1.0)
    assert answer.heard_s == 60.0


@pytest.mark.parametrize(("given_s", "length_s"), [(40.0, 40.0), (18.0, 44.0), (18.0, 42.5)])
def test_a_cycle_without_a_pulse_or_unlike_the_one_before_is_not_heard(given_s: float, length_s: float) -> None:
    answer = heard(Answer(), 1.0)
    after = listened(answer, CONTROL, PLANT, re=5.0, im=5.0, given_s=given_s, length_s=length_s, tick_s=1.0)
    assert (after.heard_s, after.re) == (answer.heard_s, answer.re)


def held(answer: Answer, hours: float, duty: float, *, at_c: float = 80.0) -> Answer:
    for _ in range(int(hours * 90)):
        answer = powered(answer, duty, 40.0, at_c)
    return answer


def test_a_sudden_third_more_power_is_named_and_taken_back() -> None:
    usual = held(Answer(), 6.0, 0.5)
    weak = held(usual, 2.0, 0.5 / 0.6)
    assert weak.verdict == "takes-more"
    assert "holding takes 83 % of it, 51 % was usual" in happened(weak)
    assert held(weak, 2.0, 0.5).verdict == ""


def test_weather_drying_and_doors_are_no_more_power() -> None:
    """A room 10 K colder takes a sixth more; drying takes less; after a door, or at another setpoint, it is found anew."""
    usual = held(Answer(), 6.0, 0.5)
    assert held(usual, 10.0, 0.5 * 68.0 / 58.0).verdict == ""
    assert held(usual, 20.0, 0.3).verdict == ""
    assert held(disturbed(usual), 10.0, 0.9).verdict == ""
    assert held(usual, 10.0, 0.9, at_c=85.0).verdict == ""


def test_power_that_suffices_again_ends_that_word() -> None:
    assert powered(Answer(verdict="power-short"), 0.8, 40.0, 80.0).verdict == ""
    assert powered(Answer(verdict="power-short"), 1.0, 40.0, 80.0).verdict == "power-short"
