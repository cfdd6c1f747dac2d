"""What is said of the heat."""

from __future__ import annotations

import pytest

from dryward.science.clocks import Clocks
from dryward.science.heat_statement import (
    MEAT_CORE_C,
    POULTRY_CORE_C,
    HeatFacts,
    before_drying,
    clock_statements,
    heat_in_short,
    heat_statements,
    treat_as_raw,
    wet_bulb_warning,
    why_not_credited,
)
from dryward.science.lethality import Heat

KILLED = Heat(logs=7.4, share_6_5=1.1, share_7=1.02, hottest_c=63.0)


@pytest.mark.parametrize(
    ("facts", "reason"),
    [
        (HeatFacts(core_probe=False, most_rh_pct=95.0), "no core probe"),
        (HeatFacts(core_probe=True), "no humidity was measured"),
        (HeatFacts(core_probe=True, most_rh_pct=22.0, heat=Heat(hottest_c=66.0)), "never held 90 %RH (most 22)"),
        (HeatFacts(core_probe=True, most_rh_pct=95.0, heat=Heat(hottest_c=41.0)), "core at most 41.0 degC"),
        (HeatFacts(core_probe=True, most_rh_pct=95.0, heat=Heat(logs=1e-6, hottest_c=13.0)), "core at most 13.0 degC"),
        (HeatFacts(core_probe=True, most_rh_pct=95.0), "core never read"),
        (HeatFacts(core_probe=True, most_rh_pct=95.0, heat=Heat(doubt="the probe was pulled out")), "pulled out"),
        (HeatFacts(core_probe=True, most_rh_pct=95.0, poultry=True, heat=KILLED), "poultry has its own"),
    ],
)
def test_not_credited_names_its_reason(facts: HeatFacts, reason: str) -> None:
    assert reason in why_not_credited(facts)
    assert treat_as_raw(facts)
    assert "treat it as raw meat" in heat_in_short(facts)
    said = heat_statements(facts)[0]
    assert said.basis == "not credited"
    assert reason in said.text


def test_credited_heat_is_measured_and_speaks_for_one_piece() -> None:
    facts = HeatFacts(core_probe=True, most_rh_pct=95.0, heat=KILLED)
    said = heat_statements(facts)[0]
    assert said.basis == "measured"
    assert "7.4 logs" in said.text
    assert "7-log minimum is met" in said.text
    assert "piece with the probe" in said.text
    assert not treat_as_raw(facts)


def test_a_rehearsal_only_estimates() -> None:
    facts = HeatFacts(core_probe=True, most_rh_pct=95.0, heat=KILLED, predicted=True)
    assert {said.basis for said in heat_statements(facts)} == {"estimate"}
    assert "(estimate)" in heat_in_short(facts)


def test_a_part_of_the_minimum_is_still_raw_and_a_later_doubt_is_told() -> None:
    facts = HeatFacts(
        core_probe=True, most_rh_pct=95.0, heat=Heat(logs=2.1, share_6_5=0.3, doubt="the probe was pulled out")
    )
    assert "Only 2.1 logs" in heat_in_short(facts)
    assert "treat it as raw" in heat_in_short(facts)
    assert [said.basis for said in heat_statements(facts)[:2]] == ["measured", "not credited"]


def test_clocks_are_told_against_their_limits() -> None:
    slow = Clocks(
        danger_s=9 * 3600.0, come_up_s=7 * 3600.0, warmed=True, cooling_upper_s=3600.0, cooling_lower_s=6 * 3600.0
    )
    danger, come_up, cooling = (said.text for said in clock_statements(slow))
    assert "9 h 0 min" in danger
    assert "OVER the 6 h" in come_up
    assert "OVER FSIS Appendix B" in cooling
    assert "not at 4.4 degC yet" in cooling


def test_without_a_probe_the_clocks_are_not_credited() -> None:
    assert heat_statements(HeatFacts())[-1].basis == "not credited"


def test_the_wet_bulb_warning_says_what_wet_meat_is_like_in_hot_air() -> None:
    """CoolProp: 80 degC and 10 %RH has a wet bulb of 39.79 degC."""
    assert (
        wet_bulb_warning(air_c=80.0, rh_pct=10.0)
        == "The air is 80 degC, the meat is near 40 degC while wet (wet bulb, estimate)."
    )
    assert "not measured" in wet_bulb_warning(air_c=80.0, rh_pct=None)
    assert wet_bulb_warning(air_c=13.0, rh_pct=80.0) == ""


def test_advice_before_drying_is_that_of_the_usda_and_poultry_has_its_own() -> None:
    """USDA: 160 degF, poultry 165 degF, before drying."""
    assert pytest.approx(160.0, abs=0.1) == MEAT_CORE_C * 1.8 + 32.0
    assert pytest.approx(165.0, abs=0.1) == POULTRY_CORE_C * 1.8 + 32.0
    assert "71.1 degC" in before_drying(poultry=False)
    assert "73.9 degC" in before_drying(poultry=True)
