"""What tuning proposes: cycle, ripple, wear, and how far the fit is trusted."""

from __future__ import annotations

from dataclasses import replace

import pytest

from dryward.core.chamber import Chamber, Control, Output, Plant
from dryward.core.tuning_advice import Advice, advise, best_cycle_s, judge, ripple_k
from dryward.core.tuning_fit import Found
from tests.core.test_tuning import BOX, start

SMALL = Plant(gain_k=128.0, time_constant_s=900.0, dead_time_s=20.0, lag_s=15.0)
SLOW = Plant(gain_k=128.0, time_constant_s=2400.0, dead_time_s=60.0, lag_s=40.0)


def found(plant: Plant = SMALL, *, misfit_k: float = 0.11, uneven: float = 0.02) -> Found:
    return Found(plant=plant, misfit_k=misfit_k, noise_k=0.1, swing_k=5.0, uneven=uneven)


def advice(plant: Plant = SMALL, chamber: Chamber = BOX) -> Advice:
    return advise(chamber, start(), found(plant))


def test_the_floor_of_time_proportioning() -> None:
    """(T_full - T_room) P d (1 - d) / tau by hand: 128 x 40 x 0.453125 x 0.546875 / 900."""
    assert ripple_k(SMALL, cycle_s=40.0, duty=58.0 / 128.0) == pytest.approx(1.40972, abs=1e-5)


def test_a_relay_gets_the_longest_cycle_that_does_not_show() -> None:
    """Not above 90 operations an hour anywhere; a slow box needs half of that."""
    assert advice(SMALL).cycle_s == 40.0
    assert 80.0 <= advice(SLOW).cycle_s <= 100.0
    assert advice(SLOW).ripple_k <= 1.25


def test_wear_is_told_in_years() -> None:
    """1e5 operations at 90 an hour are 46 days of heating (by hand)."""
    told = advice()
    assert told.operations_per_day == pytest.approx(2160.0)
    assert told.relay_years == pytest.approx(100_000 / 2160.0 / 365.25)


def test_a_solid_state_relay_gets_a_short_cycle_and_no_years() -> None:
    told = advice(chamber=replace(BOX, outputs=(Output(name="heater", rated_operations=0),)))
    assert told.cycle_s == 10.0
    assert told.relay_years is None


def test_the_cycle_is_made_of_whole_ticks() -> None:
    assert best_cycle_s(replace(BOX, period_s=5.0), SLOW, duty=0.45, wears=True) % 5.0 == 0.0


def test_a_clean_swing_is_good_without_remark() -> None:
    assert judge(found(), duty=0.45) == ("good", ())


def test_a_change_since_the_last_tuning_is_named() -> None:
    before = replace(BOX, control=Control(plant=SMALL))
    weak = replace(SMALL, gain_k=0.6 * SMALL.gain_k)
    late = replace(SMALL, dead_time_s=45.0)
    assert advice(SMALL, before).remarks == ()
    assert "60 % as fast" in " ".join(advice(weak, before).remarks)
    assert "the fan" in " ".join(advice(late, before).remarks)


@pytest.mark.parametrize(
    ("seen", "duty", "quality", "words"),
    [
        (found(misfit_k=0.5), 0.45, "fair", "not explained"),
        (found(misfit_k=1.5), 0.45, "poor", "not explained"),
        (found(uneven=0.25), 0.45, "fair", "differed by 25 %"),
        (found(uneven=0.6), 0.45, "poor", "differed by 60 %"),
        (found(), 0.97, "fair", "hardly any left"),
        (found(), 0.02, "fair", "far too strong"),
        (found(Plant(gain_k=100.0, time_constant_s=100.0, dead_time_s=80.0)), 0.5, "fair", "80 s late"),
    ],
)  # fmt: skip
def test_what_spoils_the_figures_is_named(seen: Found, duty: float, quality: str, words: str) -> None:
    got, remarks = judge(seen, duty=duty)
    assert got == quality
    assert words in " ".join(remarks)
