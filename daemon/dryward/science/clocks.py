"""Clocks that run against the meat: danger zone, come-up, cooling. Core probe only.

Opposite to lethality, a gap between readings counts in full wherever the core may have been in the zone.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

COLD_C = 4.4
HOT_C = 60.0
"""Danger zone 4.4-60 degC (40-140 degF): USDA."""

COME_UP_FROM_C, COME_UP_TO_C, COME_UP_S = 10.0, 54.4, 6 * 3600.0
"""From 10 to 54.4 degC (50 to 130 degF) within 6 h in all: FSIS-GD-2021-14."""

COOLING_MIDDLE_C, COOLING_UPPER_S, COOLING_LOWER_S = 26.7, 1.5 * 3600.0, 5 * 3600.0
"""FSIS Appendix B, option 1: between 54.4 and 26.7 degC (130 and 80 degF) at most 1.5 h, between 26.7 and 4.4 degC (80 and 40 degF) at most 5 h."""

GAP_S = 300.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Clocks:
    """Seconds so far. ``warmed``: the core has reached 54.4 degC, so the come-up is over and a cooling clock makes sense."""

    danger_s: float = 0.0
    come_up_s: float = 0.0
    warmed: bool = False
    cooling_upper_s: float = 0.0
    cooling_lower_s: float = 0.0
    cooled: bool = False
    at_s: float | None = None
    core_c: float = 0.0

    @property
    def come_up_ok(self) -> bool:
        return self.come_up_s <= COME_UP_S

    @property
    def cooling_ok(self) -> bool:
        return self.cooling_upper_s <= COOLING_UPPER_S and self.cooling_lower_s <= COOLING_LOWER_S


def advance(clocks: Clocks, *, core_c: float | None, heating: bool, now: float) -> Clocks:
    """Take in one reading of the core (None: no trustworthy reading). ``heating``: the program still gives heat.

    The cooling clocks run from the end of the heat until the core is at 4.4 degC; new heat sets them back.
    """
    if core_c is None or (clocks.at_s is not None and now < clocks.at_s):
        return clocks
    if clocks.at_s is None:
        return replace(clocks, at_s=now, core_c=core_c, warmed=core_c >= COME_UP_TO_C)
    dt_s, before_c = now - clocks.at_s, clocks.core_c
    come_up_s = (
        clocks.come_up_s
        if clocks.warmed
        else clocks.come_up_s + seconds_within(before_c, core_c, dt_s, low_c=COME_UP_FROM_C, high_c=COME_UP_TO_C)
    )
    cooling = clocks.warmed and not heating and not clocks.cooled
    upper_s = clocks.cooling_upper_s + (
        seconds_within(before_c, core_c, dt_s, low_c=COOLING_MIDDLE_C, high_c=COME_UP_TO_C) if cooling else 0.0
    )
    lower_s = clocks.cooling_lower_s + (
        seconds_within(before_c, core_c, dt_s, low_c=COLD_C, high_c=COOLING_MIDDLE_C) if cooling else 0.0
    )
    return Clocks(
        danger_s=clocks.danger_s + seconds_within(before_c, core_c, dt_s, low_c=COLD_C, high_c=HOT_C),
        come_up_s=come_up_s,
        warmed=clocks.warmed or core_c >= COME_UP_TO_C,
        cooling_upper_s=0.0 if heating else upper_s,
        cooling_lower_s=0.0 if heating else lower_s,
        cooled=not heating and (clocks.cooled or (clocks.warmed and core_c <= COLD_C)),
        at_s=now,
        core_c=core_c,
    )


def seconds_within(before_c: float, core_c: float, dt_s: float, *, low_c: float, high_c: float) -> float:
    """Time between two readings that a straight line between them spends inside a zone; all of it across a gap that touches the zone."""
    bottom, top = (before_c, core_c) if before_c <= core_c else (core_c, before_c)
    if bottom >= high_c or top <= low_c:
        return 0.0
    if dt_s > GAP_S or (bottom >= low_c and top <= high_c):
        return dt_s
    return dt_s * (min(top, high_c) - max(bottom, low_c)) / (top - bottom)
