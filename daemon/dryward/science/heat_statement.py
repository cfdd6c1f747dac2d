"""What can be said of the heat a run gave: credited or not and why, and the clocks that ran against the meat.

A core probe speaks for the piece it sits in, for no other.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from dryward.science import clocks as clock
from dryward.science.air import SEA_LEVEL_PA, wet_bulb_c
from dryward.science.clocks import Clocks
from dryward.science.humidity import MOIST_RH_PCT
from dryward.science.lethality import Heat
from dryward.science.wording import Basis, Statement, duration

POULTRY_CORE_C, MEAT_CORE_C = 73.9, 71.1
"""USDA advice for drying meat at home: heat to this (165 and 160 degF) before drying, since bacteria grow heat resistant once dry."""

WORTH_TELLING = 0.05
"""Fewer logs than this round to nothing: moist air alone, even cold, adds some."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatFacts:
    """What the run knows of the heat. ``most_rh_pct`` None: no humidity was measured; ``predicted``: from a rehearsal, so an estimate."""

    core_probe: bool = False
    most_rh_pct: float | None = None
    poultry: bool = False
    predicted: bool = False
    heat: Heat = field(default_factory=Heat)
    clocks: Clocks = field(default_factory=Clocks)

    @property
    def basis(self) -> Basis:
        return "estimate" if self.predicted else "measured"


def before_drying(*, poultry: bool) -> str:
    """Give the advice of the USDA for drying meat at home, to be told before a run."""
    return (
        f"The USDA advises to heat meat to {POULTRY_CORE_C if poultry else MEAT_CORE_C} degC at the core before drying: once dry, bacteria stand heat. "
        "A dry dryer alone does not do that while the meat is wet."
    )


def heat_in_short(heat: HeatFacts) -> str:
    """Say in one sentence whether the meat counts as heated."""
    if why_not_credited(heat):
        return "Its heat is not credited: treat it as raw meat."
    if treat_as_raw(heat):
        return f"Only {heat.heat.logs:.1f} logs of core heat are credited, less than the minimum of FSIS Appendix A: treat it as raw meat."
    return f"The core with the probe met the 6.5-log minimum of FSIS Appendix A ({heat.basis})."


def treat_as_raw(heat: HeatFacts) -> bool:
    """Say whether no published minimum is credited."""
    return bool(why_not_credited(heat)) or not heat.heat.meets_6_5


def heat_statements(heat: HeatFacts) -> tuple[Statement, ...]:
    """Say what the heat has been credited with, and how the clocks stand."""
    found = []
    if why := why_not_credited(heat):
        found.append(Statement("not credited", f"Heat as a kill step: {why}"))
    else:
        met = (
            "the 7-log minimum is met"
            if heat.heat.meets_7
            else "the 6.5-log minimum is met"
            if heat.heat.meets_6_5
            else "no minimum is met"
        )
        found.append(
            Statement(
                heat.basis,
                f"Core heat while the air held {MOIST_RH_PCT:g} %RH or more: {heat.heat.logs:.1f} logs on the 6.5-log line, {met} (FSIS Appendix A). It speaks for the piece with the probe.",
            )
        )
        if heat.heat.doubt:
            found.append(Statement("not credited", f"Heat after that: {heat.heat.doubt}."))
    if not heat.core_probe:
        return (*found, Statement("not credited", "Danger zone, come-up and cooling: not known without a core probe."))
    return (*found, *clock_statements(heat.clocks, heat.basis))


def clock_statements(clocks: Clocks, basis: Basis = "measured") -> tuple[Statement, ...]:
    """Tell the danger zone, come-up and cooling times of the core against their limits."""
    found = [
        Statement(
            basis,
            f"Core between {clock.COLD_C} and {clock.HOT_C:g} degC (danger zone, USDA): {duration(clocks.danger_s)}.",
        )
    ]
    if clocks.come_up_s or clocks.warmed:
        kept = "within" if clocks.come_up_ok else "OVER"
        still = "" if clocks.warmed else " so far, 54.4 degC not reached"
        found.append(
            Statement(
                basis,
                f"Come-up from 10 to 54.4 degC: {duration(clocks.come_up_s)}{still}, {kept} the 6 h of FSIS-GD-2021-14.",
            )
        )
    if clocks.cooling_upper_s or clocks.cooling_lower_s:
        kept = "within" if clocks.cooling_ok else "OVER"
        done = "" if clocks.cooled else " so far, not at 4.4 degC yet"
        found.append(Statement(basis, (
            f"Cooling: {duration(clocks.cooling_upper_s)} from 54.4 to 26.7 degC (at most 1 h 30 min), {duration(clocks.cooling_lower_s)} from 26.7 to 4.4 degC "
            f"(at most 5 h){done}: {kept} FSIS Appendix B, option 1."
        )))  # fmt: skip
    return tuple(found)


def why_not_credited(heat: HeatFacts) -> str:
    """Name the first reason why no heat is credited; an empty string where some is."""
    if heat.poultry:
        return f"the FSIS table here is for meat; poultry has its own. Home advice is {POULTRY_CORE_C} degC at the core (USDA)."
    if not heat.core_probe:
        return "there is no core probe. Air temperature says nothing of the core."
    if heat.heat.logs >= WORTH_TELLING:
        return ""
    if heat.heat.doubt:
        return f"{heat.heat.doubt}."
    if heat.most_rh_pct is None:
        return "no humidity was measured, and FSIS credits heat only in moist air (FSIS-GD-2021-14)."
    if heat.most_rh_pct < MOIST_RH_PCT:
        return f"the air never held {MOIST_RH_PCT:g} %RH (most {heat.most_rh_pct:.0f}); in dry air a surface shelters what heat should kill (FSIS-GD-2021-14)."
    hottest = "never read" if heat.heat.hottest_c is None else f"at most {heat.heat.hottest_c:.1f} degC"
    return f"the core was not hot while the air was moist (core {hottest})."


def wet_bulb_warning(*, air_c: float, rh_pct: float | None, pressure_pa: float = SEA_LEVEL_PA) -> str:
    """Say that wet meat is cooler than hot air; an empty string where it does not matter (air below 50 degC)."""
    if air_c < 50.0:
        return ""
    if rh_pct is None:
        return f"The air is {air_c:.0f} degC, but wet meat is much cooler: near 40 degC in air of 80 degC and 10 %RH. Humidity is not measured here, so nobody knows how cool (estimate)."
    return f"The air is {air_c:.0f} degC, the meat is near {wet_bulb_c(air_c=air_c, rh_pct=rh_pct, pressure_pa=pressure_pa):.0f} degC while wet (wet bulb, estimate)."
