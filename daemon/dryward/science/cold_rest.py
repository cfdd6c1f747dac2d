"""The cold rest of salted pieces: the owner's choice of days, with common practice and the cold limit beside it."""

from __future__ import annotations

from dataclasses import dataclass

from dryward.science.clocks import COLD_C
from dryward.science.figures import celsius_mix_up, outside, refuse

COMMON = (
    "3-4 days for a salted whole-muscle batch in pieces of about 750 g (common practice, no source)",
    "hams 3.5-4 days per lb in brine at 2-4 degC, 36-40 degF (USDA farm bulletin)",
)
"""What others do. How long salt needs to spread in a piece of given thickness is not verified here, so no rule is given."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ColdRest:
    """``turn_at_h``: hours after the start at which to turn the pieces; ``too_warm``: above the limit for the cold."""

    days: float
    air_c: float
    turn_at_h: tuple[float, ...]
    too_warm: bool


def cold_rest(*, days: float, air_c: float, turn_every_h: float = 24.0) -> ColdRest:
    """Plan a rest of so many days at so many degC. Limit: at or below 4.4 degC (USDA). Raises BadFigures."""
    refuse(
        outside("cold rest", days, "days", low=0.25, high=60.0),
        outside("cold rest temperature", air_c, "degC", low=-2.0, high=15.0, cure=celsius_mix_up(air_c, high_c=15.0)),
        outside("time between turns", turn_every_h, "h", low=1.0, high=240.0),
    )
    turns = int((days * 24.0 - 1e-9) // turn_every_h)
    return ColdRest(
        days=days,
        air_c=air_c,
        turn_at_h=tuple(turn_every_h * (turn + 1) for turn in range(turns)),
        too_warm=air_c > COLD_C,
    )
