"""Loss of weight: each piece against its own green (raw) weight. Definition of the trade: ``target = green (1 - loss)``.

Loss is no proof of safety: moisture and salt set the water activity, and heat kills only where the meat itself was hot.
"""

from __future__ import annotations

from dryward.science.figures import fraction_mix_up, not_above_zero, outside, refuse

MOST_LOSS_PCT = 90.0
"""Raw meat is about three quarters water: a loss above this is a mistake."""

LEAST_LOSS_PCT = 1.0
"""A target below this is a fraction typed as per cent."""

MOST_GAIN = 1.02
"""A piece may weigh a little more than its green weight (salt and brine cling to it), not more than this many times."""


def target_g(*, green_g: float, loss_pct: float) -> float:
    """Weight at which a piece is done, g. Raises BadFigures."""
    refuse(
        not_above_zero("green weight", green_g, "g", high=100_000.0),
        outside(
            "target loss",
            loss_pct,
            "%",
            low=LEAST_LOSS_PCT,
            high=MOST_LOSS_PCT,
            cure=fraction_mix_up(loss_pct, low_pct=LEAST_LOSS_PCT),
        ),
    )
    return weight_after(green_g, loss_pct)


def weight_after(green_g: float, loss_pct: float) -> float:
    """Weight, g, when so much is lost, unchecked: 132 g of 200 g are 34 % less, and not a hair above it."""
    return round(green_g * (1.0 - loss_pct / 100.0), 11)


def loss_pct(*, green_g: float, weight_g: float) -> float:
    """Share of its green weight that a piece has lost, per cent; a little below 0 for a piece that took up brine. Raises BadFigures."""
    refuse(
        not_above_zero("green weight", green_g, "g", high=100_000.0), weight_mistake(green_g=green_g, weight_g=weight_g)
    )
    return 100.0 * (1.0 - weight_g / green_g)


def weight_mistake(*, green_g: float, weight_g: float) -> str | None:
    """Say why a weighing cannot belong to a piece of that green weight, naming kg for g where that is likely; None when it can."""
    low_g, high_g = green_g * (1.0 - MOST_LOSS_PCT / 100.0), green_g * MOST_GAIN
    kilograms = low_g <= weight_g * 1000.0 <= high_g
    cure = (
        f"If that was kg, write {weight_g * 1000.0:g}" if kilograms else "Weigh it again, and check which piece it is"
    )
    return outside("weight", weight_g, "g", low=low_g, high=high_g, cure=cure)
