"""The humidity conditions under which FSIS credits heat. Without one of them a dry surface shelters what the heat should kill.

FSIS-GD-2021-14 (cooking guideline, revised Appendix A): continuous steam for half the cooking time or 1 h; a sealed oven for
half the time or 1 h; relative humidity of 90 % or more for a quarter of the time or 1 h, whichever is longer; or 90 % throughout.
A wet bulb of 52-54 degC (125-130 degF) for 1 h alone is none of them. A dry dryer of 60-80 degC meets none.
"""

from __future__ import annotations

MOIST_RH_PCT = 90.0
SOURCE = "FSIS-GD-2021-14"


def is_moist(rh_pct: float | None) -> bool:
    """Say whether the air is moist enough now for heat to be credited as 'relative humidity 90 % or more throughout'."""
    return rh_pct is not None and rh_pct >= MOIST_RH_PCT


def condition_met(*, cook_s: float, moist_s: float = 0.0, sealed_s: float = 0.0, steam_s: float = 0.0) -> str:
    """Name the condition that a whole finished cook of ``cook_s`` met, or give an empty string.

    'Half the time or 1 h' is read as whichever is longer, the careful reading.
    """
    if steam_s >= max(0.5 * cook_s, 3600.0):
        return "continuous steam for half the cooking time and at least 1 h"
    if sealed_s >= max(0.5 * cook_s, 3600.0):
        return "sealed oven for half the cooking time and at least 1 h"
    if moist_s >= max(0.25 * cook_s, 3600.0):
        return "90 %RH or more for a quarter of the cooking time and at least 1 h"
    if 0.0 < cook_s <= moist_s:
        return "90 %RH or more throughout"
    return ""
