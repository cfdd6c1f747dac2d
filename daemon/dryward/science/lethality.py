"""Heat that kills: accumulated from a core probe, credited only where a humidity condition held.

Two measures side by side. ``logs`` follows the line of the 6.5-log column of FSIS Appendix A, ``112 min x 10^(-(F - 130)/10)``,
trapezoid over time. Whether a minimum is *met* is judged by the published table itself, whose times are mostly rounded up, with
times between its rows interpolated on a log scale; below 130 degF (54.4 degC) the table credits nothing. The table is for
meat: poultry has its own and gets no credit here.

Credit is cautious: an interval counts only when both its ends were read, moist, close enough in time, and no faster apart
than meat can change. After a change that no meat can make the probe is doubted and nothing more counts until somebody
says it is back in the meat.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from dryward.science.figures import celsius_mix_up, outside

APPENDIX_A_SOURCE = "USDA FSIS Appendix A, time and temperature table for meat (FSIS-GD-2021-14)"

TABLE_BEGINS_F = 130
AT_ONCE_F = 158.0
SECONDS_6_5 = (
    6720.0, 5340.0, 4260.0, 3360.0, 2700.0, 2160.0, 1680.0, 1380.0, 1080.0, 900.0, 720.0, 540.0, 480.0, 360.0, 300.0, 240.0,
    169.0, 134.0, 107.0, 85.0, 67.0, 54.0, 43.0, 34.0, 27.0, 22.0, 17.0, 14.0,
)  # fmt: skip
SECONDS_7 = (
    7260.0, 5820.0, 4620.0, 3720.0, 2820.0, 2220.0, 1920.0, 1440.0, 1140.0, 900.0, 720.0, 600.0, 480.0, 360.0, 300.0, 240.0,
    182.0, 144.0, 115.0, 91.0, 72.0, 58.0, 46.0, 37.0, 29.0, 23.0, 19.0, 15.0,
)  # fmt: skip
"""Minimum times at 130, 131 ... 157 degF, s; 158 degF (70 degC) and above: at once."""

ROUNDED_F = 0.09
"""The degC column beside the table is rounded to 0.1: a reading within 0.05 K under a row counts as that row."""

FALL_K_PER_MIN, FALL_SLACK_K = 10.0, 3.0
RISE_K_PER_MIN, RISE_SLACK_K = 10.0, 3.0
"""No piece thicker than about 20 mm changes faster at its core (heat conduction: 60 K around it, 1.4e-7 m2/s, computed: about 2 K/min
at 40 mm); a probe pulled into the room falls by 20 K in its first minute. Slack covers noise."""

JUDGED_FROM_C = 40.0
"""Changes are judged only where heat begins to count: putting a probe into cold meat is no fault."""

GAP_S = 300.0
"""Two readings further apart than this credit nothing between them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Kinetics:
    """First-order death of one organism in one food: ``d_min`` minutes per factor of ten at ``ref_c``, factor of ten per ``z_c``."""

    ref_c: float
    z_c: float
    d_min: float | None = None
    name: str = ""


def fahrenheit(core_c: float) -> float:
    return core_c * 1.8 + 32.0


def celsius(core_f: float) -> float:
    return (core_f - 32.0) / 1.8


ORGANISMS = {
    "salmonella-patty": Kinetics(
        ref_c=celsius(150.0),
        z_c=10.0 / 1.8,
        d_min=0.172,
        name="Salmonella, meat patty: D 0.172 min at 150 degF, z 10 degF",
    ),
    "listeria-beef": Kinetics(
        ref_c=celsius(145.0),
        z_c=9.3 / 1.8,
        d_min=0.6,
        name="Listeria monocytogenes, lean beef: D 0.6 min at 145 degF, z 9.3 degF",
    ),
    "ecoli-pork": Kinetics(
        ref_c=celsius(149.0),
        z_c=11.7 / 1.8,
        d_min=0.30,
        name="E. coli O157:H7, pork: D 0.30 min at 149 degF, z 11.7 degF",
    ),
}
"""Figures as a published process-lethality sheet lists them; another strain or food differs."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Heat:
    """What the core has been credited with so far. ``share_*``: part of the table's minimum; 1 or more is met. Times in s."""

    logs: float = 0.0
    share_6_5: float = 0.0
    share_7: float = 0.0
    f_min: float = 0.0
    hottest_c: float | None = None
    doubt: str = ""
    at_s: float | None = None
    core_c: float = 0.0
    moist: bool = False
    ceiling_c: float = 0.0
    floor_c: float = 0.0

    @property
    def meets_6_5(self) -> bool:
        return self.share_6_5 >= 1.0 - 1e-9

    @property
    def meets_7(self) -> bool:
        return self.share_7 >= 1.0 - 1e-9


def advance(
    heat: Heat,
    *,
    core_c: float | None,
    moist: bool,
    kinetics: Kinetics | None = None,
    gap_s: float = GAP_S,
    judge_rise: bool = True,
    now: float,
) -> Heat:
    """Take in one reading of the core probe (None: nothing new). ``moist``: the humidity condition holds now.

    While a run goes on only "90 %RH or more" can be known to hold (``humidity.is_moist``); a finished cook may meet another condition.
    A time before the last one is ignored.
    """
    if core_c is None or (heat.at_s is not None and now < heat.at_s):
        return heat
    hottest_c = core_c if heat.hottest_c is None else max(heat.hottest_c, core_c)
    if heat.at_s is None or now - heat.at_s > gap_s:  # a new beginning: nothing is known of the time before
        return replace(
            heat, at_s=now, core_c=core_c, moist=moist, ceiling_c=core_c, floor_c=core_c, hottest_c=hottest_c
        )
    dt_s = now - heat.at_s
    ceiling_c = max(core_c, heat.ceiling_c - FALL_K_PER_MIN * dt_s / 60.0)
    floor_c = min(core_c, heat.floor_c + RISE_K_PER_MIN * dt_s / 60.0)
    doubt = heat.doubt or _doubt(core_c, ceiling_c=ceiling_c, floor_c=floor_c, judge_rise=judge_rise)
    gained = _NOTHING if doubt or not (moist and heat.moist) else _gain(heat.core_c, core_c, dt_s, kinetics)
    return Heat(
        logs=heat.logs + gained[0], share_6_5=heat.share_6_5 + gained[1], share_7=heat.share_7 + gained[2], f_min=heat.f_min + gained[3],
        hottest_c=heat.hottest_c if doubt else hottest_c, doubt=doubt, at_s=now, core_c=core_c, moist=moist, ceiling_c=ceiling_c, floor_c=floor_c,
    )  # fmt: skip


def probe_is_back(heat: Heat) -> Heat:
    """Trust the probe again, on somebody's word that it sits in the meat; what was credited stands."""
    return replace(heat, doubt="", at_s=None)


def core_mistake(core_c: float) -> str | None:
    """Refuse what no core probe in meat reads: wet meat cannot pass the boiling point, so higher figures are likely degF."""
    return outside("core temperature", core_c, "degC", low=-30.0, high=105.0, cure=celsius_mix_up(core_c, high_c=105.0))


def time_needed_s(core_c: float, *, seconds: tuple[float, ...] = SECONDS_6_5) -> float:
    """Minimum time of the table at this core temperature, s: infinite below 130 degF, 0 from 158 degF on."""
    core_f = fahrenheit(core_c)
    row = round(core_f)
    if 0.0 < row - core_f <= ROUNDED_F + 1e-9:
        core_f = float(row)
    if core_f < TABLE_BEGINS_F:
        return math.inf
    if core_f >= AT_ONCE_F:
        return 0.0
    below = int(core_f)
    left = seconds[below - TABLE_BEGINS_F]
    right = seconds[below + 1 - TABLE_BEGINS_F] if below + 1 < AT_ONCE_F else left
    return left * math.pow(right / left, core_f - below)


_NOTHING = (0.0, 0.0, 0.0, 0.0)


def _gain(before_c: float, core_c: float, dt_s: float, kinetics: Kinetics | None) -> tuple[float, float, float, float]:
    """Logs, shares of both tables and minutes at the reference, over one interval, by the trapezoid."""
    mean_line = (_line(before_c) + _line(core_c)) / 2.0
    f_min = 0.0
    if kinetics is not None:
        f_min = dt_s / 60.0 * (_factor(before_c, kinetics) + _factor(core_c, kinetics)) / 2.0
    return (
        6.5 * dt_s / 6720.0 * mean_line,
        _table_share(before_c, core_c, dt_s, SECONDS_6_5, slowest_s=6720.0 * 10.0**-2.8),
        _table_share(before_c, core_c, dt_s, SECONDS_7, slowest_s=7.0 / 6.5 * 6720.0 * 10.0**-2.8),
        f_min,
    )


def _line(core_c: float) -> float:
    return math.pow(10.0, (fahrenheit(core_c) - TABLE_BEGINS_F) / 10.0)


def _factor(core_c: float, kinetics: Kinetics) -> float:
    return math.pow(10.0, (core_c - kinetics.ref_c) / kinetics.z_c)


def _table_share(before_c: float, core_c: float, dt_s: float, seconds: tuple[float, ...], *, slowest_s: float) -> float:
    """Part of the minimum that an interval adds. Met at once only when both its ends are at 158 degF: one reading may be a glitch, and
    so may one that was written twice."""
    if dt_s <= 0.0:
        return 0.0
    needed = (time_needed_s(before_c, seconds=seconds), time_needed_s(core_c, seconds=seconds))
    if needed == (0.0, 0.0):
        return 1.0
    return sum(dt_s / 2.0 / (time_s or slowest_s) for time_s in needed)


def _doubt(core_c: float, *, ceiling_c: float, floor_c: float, judge_rise: bool) -> str:
    if ceiling_c >= JUDGED_FROM_C and core_c < ceiling_c - FALL_SLACK_K:
        return f"the core reading fell to {core_c:.1f} degC faster than meat can cool: the probe was pulled out or has slipped"
    if judge_rise and core_c >= JUDGED_FROM_C and core_c > floor_c + RISE_SLACK_K:
        return f"the core reading rose to {core_c:.1f} degC faster than meat can warm: the probe lies in the air or has slipped"
    return ""
