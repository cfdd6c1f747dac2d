"""The published lines that a water activity is held against. An estimate never crosses one for certain: a laboratory figure does."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Side = Literal["above", "not known", "at or below"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """``above`` says what is true of food above the line."""

    water_activity: float
    above: str
    source: str


SHELF_STABLE = Line(
    water_activity=0.85, above="it is not shelf stable: Staphylococcus aureus can grow", source="USDA FSIS"
)
LOW_ACID = Line(water_activity=0.85, above="with a pH above 4.6 it is a low-acid food", source="21 CFR 114.3")
GROWTH = tuple(
    Line(water_activity=minimum, above=f"{what} can grow", source="FDA and USDA ARS guides")
    for minimum, what in (
        (0.92, "Listeria monocytogenes"),
        (0.93, "Clostridium botulinum, proteolytic,"),
        (0.94, "Salmonella"),
    )
)
LINES = (SHELF_STABLE, LOW_ACID, *GROWTH)


def side(line: Line, *, lo: float, hi: float) -> Side:
    """Say on which side of a line a whole interval lies."""
    if hi <= line.water_activity:
        return "at or below"
    return "above" if lo > line.water_activity else "not known"


def keeps_without_cold(water_activity: float, *, ph: float, heat_treated_and_packaged: bool) -> bool:
    """Say whether the FDA Food Code counts a food as one that needs no time and temperature control (non-TCS).

    Table A is for food heat-treated and packaged, Table B for all other. Use the upper end of an estimated activity.
    """
    highest = highest_ph_a(water_activity) if heat_treated_and_packaged else highest_ph_b(water_activity)
    return ph <= highest


def highest_ph_a(water_activity: float) -> float:
    """FDA Food Code, Table A (heat-treated and packaged): highest pH at which this water activity needs no cold. 14: at any pH."""
    if water_activity <= 0.92:
        return 14.0
    return 5.6 if water_activity <= 0.95 else 4.6


def highest_ph_b(water_activity: float) -> float:
    """FDA Food Code, Table B (not heat-treated, or not packaged): as above."""
    if water_activity < 0.88:
        return 14.0
    if water_activity <= 0.90:
        return 5.0
    return 4.6 if water_activity <= 0.92 else 4.2
