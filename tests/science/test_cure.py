"""Ingoing nitrite and nitrate against published examples and limits."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dryward.science.cure import (
    LIMITS,
    TYPE_1,
    TYPE_2,
    CuringSalt,
    Ingoing,
    dry,
    immersion,
    limit_for,
    most_cure_g,
    pumped,
    within,
)
from dryward.science.figures import BadFigures

LB_G = 453.59237
OZ_G = LB_G / 16.0


def test_blends() -> None:
    """Type 1: 6.25 % sodium nitrite; type 2: 4 % sodium nitrate as well (secondary source)."""
    assert (TYPE_1.nitrite_pct, TYPE_1.nitrate_pct, TYPE_1.salt_pct) == (6.25, 0.0, 93.75)
    assert (TYPE_2.nitrite_pct, TYPE_2.nitrate_pct, TYPE_2.salt_pct) == (6.25, 4.0, 89.75)


def test_dry_example() -> None:
    """5 lb of cure at 0.40 % on 100 lb: 200 ppm (secondary source, recomputed); formula of FSIS Directive 7620.3."""
    assert dry(
        cure_g=5 * LB_G, green_g=100 * LB_G, salt=CuringSalt(name="", nitrite_pct=0.40)
    ).nitrite_ppm == pytest.approx(200.0)


def test_pumped_example() -> None:
    """50 lb of cure at 0.75 % in 462.1875 lb of pickle, pumped 20 %: 162.27 ppm (secondary source, recomputed)."""
    made = pumped(cure_g=50 * LB_G, pickle_g=462.1875 * LB_G, pump_pct=20.0, salt=CuringSalt(name="", nitrite_pct=0.75))
    assert made.nitrite_ppm == pytest.approx(162.27, abs=0.005)


def test_immersion_by_hand() -> None:
    """Nitrite over green weight and pickle together (FSIS Directive 7620.3): 100 g of type 1 in 5 kg of pickle on 5 kg."""
    assert immersion(cure_g=100.0, pickle_g=5000.0, green_g=5000.0, salt=TYPE_1).nitrite_ppm == pytest.approx(625.0)


@pytest.mark.parametrize(("ppm", "g_per_kg"), [(120.0, 1.92), (156.25, 2.50), (200.0, 3.20), (625.0, 10.00)])
def test_type_1_per_kilogram(ppm: float, g_per_kg: float) -> None:
    """Computed."""
    assert dry(cure_g=g_per_kg, green_g=1000.0, salt=TYPE_1).nitrite_ppm == pytest.approx(ppm)


def test_an_extension_service_recipe() -> None:
    """Mississippi State Extension P2648: 8 lb salt, 3 lb sugar, 2 oz nitrate, 1/2 oz nitrite, 1 oz of it per lb: 175.07 and 700.3 ppm (computed)."""
    mix_oz = 8 * 16 + 3 * 16 + 2.0 + 0.5
    salt = CuringSalt(name="", nitrite_pct=100 * 0.5 / mix_oz, nitrate_pct=100 * 2.0 / mix_oz)
    made = dry(cure_g=OZ_G, green_g=LB_G, salt=salt)
    assert made.nitrite_ppm == pytest.approx(175.07, abs=0.005)
    assert made.nitrate_ppm == pytest.approx(700.3, abs=0.05)
    assert not within(made, limit_for("dry"))


@pytest.mark.parametrize(
    ("key", "nitrite_ppm", "nitrate_ppm"),
    [
        ("us-dry", 625.0, None),
        ("us-chopped", 156.25, None),
        ("us-finished", 200.0, None),
        ("us-home", 200.0, 500.0),
        ("us-bacon-pumped", 120.0, None),
        ("us-bacon-dry", 200.0, None),
    ],
)
def test_limits_as_published(key: str, nitrite_ppm: float, nitrate_ppm: float | None) -> None:
    """9 CFR 424.21(c) as quoted (1 oz and 1/4 oz per 100 lb; finished 200; bacon 120 and 200); 21 CFR 172.170 (home curing)."""
    limit = {limit.key: limit for limit in LIMITS}[key]
    assert (limit.nitrite_ppm, limit.nitrate_ppm) == (nitrite_ppm, nitrate_ppm)
    assert limit.country == "United States"
    assert ("21 CFR 172.170" if key == "us-home" else "9 CFR 424.21(c)") in limit.source


def test_ounces_per_hundred_pounds_are_these_ppm() -> None:
    assert pytest.approx(625.0) == 1e6 * OZ_G / (100 * LB_G)
    assert pytest.approx(156.25) == 1e6 * 0.25 * OZ_G / (100 * LB_G)


@pytest.mark.parametrize(("method", "ppm"), [("dry", 200.0), ("pumped", 120.0), ("immersion", 200.0)])
def test_without_a_choice_the_strictest_for_whole_muscle_holds(method: str, ppm: float) -> None:
    assert limit_for(method).nitrite_ppm == ppm  # type: ignore[arg-type]


def test_a_figure_equal_to_the_limit_keeps_it_and_nitrate_counts_too() -> None:
    limit = limit_for("dry")
    assert within(dry(cure_g=3.2, green_g=1000.0, salt=TYPE_1), limit)
    assert not within(Ingoing(nitrite_ppm=200.01, nitrate_ppm=0.0), limit)
    assert not within(Ingoing(nitrite_ppm=100.0, nitrate_ppm=500.1), limit)


@given(st.floats(0.1, 50.0), st.floats(1.0, 4.0), st.floats(300.0, 5000.0))
def test_ppm_is_linear_in_the_cure(cure_g: float, times: float, green_g: float) -> None:
    one = dry(cure_g=cure_g / 4.0, green_g=green_g, salt=TYPE_2)
    more = dry(cure_g=cure_g / 4.0 * times, green_g=green_g, salt=TYPE_2)
    assert more.nitrite_ppm == pytest.approx(times * one.nitrite_ppm)
    assert more.nitrate_ppm == pytest.approx(times * one.nitrate_ppm)


@given(st.floats(5.0, 100.0), st.sampled_from([TYPE_1, TYPE_2, CuringSalt(name="", nitrite_pct=1.0, nitrate_pct=9.0)]))
def test_the_largest_dose_just_keeps_to_the_limit(cure_g: float, salt: CuringSalt) -> None:
    limit = limit_for("dry")
    most_g = most_cure_g(cure_g, dry(cure_g=cure_g, green_g=1000.0, salt=salt), limit)
    assert within(dry(cure_g=most_g, green_g=1000.0, salt=salt), limit)
    assert not within(dry(cure_g=most_g * 1.001, green_g=1000.0, salt=salt), limit)


@given(st.floats(0.5, 19.0), st.floats(1.0, 50.0))
def test_a_green_weight_in_kilograms_is_caught(green_kg: float, cure_g: float) -> None:
    with pytest.raises(BadFigures, match=f"write {green_kg * 1000:g}".replace("+", r"\+")):
        dry(cure_g=cure_g, green_g=green_kg, salt=TYPE_1)


@pytest.mark.parametrize("share", [0.0625, 0.006])
def test_nitrite_as_a_fraction_is_named(share: float) -> None:
    with pytest.raises(BadFigures, match="fraction, write"):
        dry(cure_g=2.5, green_g=1000.0, salt=CuringSalt(name="", nitrite_pct=share))


def test_impossible_doses_are_all_refused_at_once() -> None:
    with pytest.raises(BadFigures) as caught:
        pumped(
            cure_g=math.nan, pickle_g=-5.0, pump_pct=0.1, salt=CuringSalt(name="", nitrite_pct=70.0, nitrate_pct=40.0)
        )
    assert len(caught.value.mistakes) == 4
    with pytest.raises(BadFigures, match="at most 20 % of it"):
        dry(cure_g=250.0, green_g=1000.0, salt=TYPE_1)
