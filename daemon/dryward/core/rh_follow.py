"""The humidity a step wants: its own figure, or one that follows the pieces as they dry. Off unless a step names bounds.

As a piece dries, the salt in its water binds more of it and its water activity falls: air that was right at first is then
too moist to dry it. The setpoint falls by as much as the water activity of the wettest piece has fallen since it was raw
(100 times a water activity is the humidity in balance with it), so that the distance between the two stays, and never
leaves the bounds of the step. What is estimated is the mean of the piece, from its loss and salt; its surface is drier,
so the air stays on the moist side and no crust is driven. Pieces without a weight or without salt change nothing.
"""

from __future__ import annotations

from functools import lru_cache

from dryward.core.program import Step
from dryward.core.weighing import PieceState
from dryward.science.composition import of_cut
from dryward.science.drying_state import drying_state
from dryward.science.figures import BadFigures

SHARPNESS_PCT = 0.1  # of loss: finer changes do not move a humidity that is held to some per cent


def wanted_rh_pct(step: Step, pieces: tuple[PieceState, ...]) -> float | None:
    """Return the relative humidity to hold, %RH; None where the step holds none."""
    if step.rh_pct is None or (step.rh_follow_low_pct is None and step.rh_follow_high_pct is None):
        return step.rh_pct
    falls = [fall for p in pieces if p.status == "drying" and (fall := _fall_pct(p)) is not None]
    if not falls:
        return step.rh_pct
    wish = step.rh_pct - min(falls)
    low = step.rh_pct if step.rh_follow_low_pct is None else step.rh_follow_low_pct
    high = step.rh_pct if step.rh_follow_high_pct is None else step.rh_follow_high_pct
    return min(max(wish, low), high)


def _fall_pct(p: PieceState) -> float | None:
    """Return by how much the piece's water activity has fallen since it was raw, in per cent of humidity; None if unknown."""
    if p.loss_pct is None or p.piece.salt_pct is None:
        return None
    loss_pct = round(p.loss_pct / SHARPNESS_PCT) * SHARPNESS_PCT
    raw, now = (_activity(p.piece.cut, p.piece.salt_pct, loss) for loss in (0.0, loss_pct))
    return None if raw is None or now is None else 100.0 * (raw - now)


@lru_cache(maxsize=256)
def _activity(cut: str, salt_pct: float, loss_pct: float) -> float | None:
    try:
        return drying_state(
            green_g=1000.0, water_pct=of_cut(cut).water_pct, salt_pct=salt_pct, loss_pct=loss_pct
        ).water_activity
    except BadFigures:  # lighter than its own dry matter: a weight in doubt steers nothing
        return None
