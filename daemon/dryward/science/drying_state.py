"""What a drying piece is like inside: water left, salt in that water, estimated water activity and its interval.

Mass balance: a piece weighs its green weight less the loss and holds all its dry matter and its salt, so the salt's own
weight has left as water too: water = green (water share - loss - salt share). The water activity is that of NaCl in this
water. Measured dried meat lies lower (proteins, sugars and acids bind water too), so the estimate errs on the careful side.
"""

from __future__ import annotations

from dataclasses import dataclass

from dryward.science.brine import SATURATED_PCT, brine, molality_of_water_phase, water_activity
from dryward.science.figures import fraction_mix_up, not_above_zero, outside, refuse

SALT_KEPT = 0.8
"""Upper end of the interval: this share of the rubbed salt is in the meat, the rest ran off or has not spread yet. Common practice, no source."""

WATER_SPREAD_PCT = 3.0
"""Upper end too: so much more water than the row for the cut says. Half the distance between the rows of one cut, lean and not (USDA SR26)."""

BELOW_PLAIN, BELOW_PER_SALT_PCT = 0.02, 0.0100
"""Lower end: measured products lay 0.03-0.14 under the NaCl figure, growing with the salt in the water (University of
Wisconsin-Madison shelf-stability table, five rows of 5.6-14.2 % salt in the water)."""

DRY_BELOW = 0.5
"""Under so many g of water per g of dry matter the meat itself holds the water and the lower end sinks to 0. From memory, wide on purpose."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DryingState:
    """All estimates. Weights in g; ``moisture_pct`` of the piece as it is; ``moisture_protein`` names products, it is no safety figure."""

    weight_g: float
    water_g: float
    salt_g: float
    moisture_pct: float
    water_phase_salt_pct: float
    molality_mol_per_kg: float
    water_activity: float
    water_activity_lo: float
    water_activity_hi: float
    saturated: bool
    moisture_protein: float | None


def drying_state(
    *, green_g: float, water_pct: float, salt_pct: float, loss_pct: float, protein_pct: float | None = None
) -> DryingState:
    """Estimate the state of a piece from its raw composition and salt (per cent of green weight) and its loss so far. Raises BadFigures."""
    refuse(
        *_mistakes(green_g=green_g, water_pct=water_pct, salt_pct=salt_pct, loss_pct=loss_pct, protein_pct=protein_pct)
    )
    water_g = green_g * (water_pct - loss_pct - salt_pct) / 100.0
    salt_g = green_g * salt_pct / 100.0
    weight_g = green_g * (1.0 - loss_pct / 100.0)
    now = brine(salt_g=salt_g, water_g=water_g)
    wettest = brine(
        salt_g=SALT_KEPT * salt_g, water_g=water_g + (1.0 - SALT_KEPT) * salt_g + green_g * WATER_SPREAD_PCT / 100.0
    )
    water_per_dry = water_g / (green_g * (100.0 - water_pct) / 100.0)
    return DryingState(
        weight_g=weight_g,
        water_g=water_g,
        salt_g=salt_g,
        moisture_pct=100.0 * water_g / weight_g,
        water_phase_salt_pct=now.salt_pct_of_brine,
        molality_mol_per_kg=now.molality_mol_per_kg,
        water_activity=now.water_activity,
        water_activity_lo=lowest(now.salt_pct_of_brine) * min(1.0, water_per_dry / DRY_BELOW),
        water_activity_hi=wettest.water_activity,
        saturated=now.saturated,
        moisture_protein=100.0 * water_g / (green_g * protein_pct) if protein_pct else None,
    )


def lowest(water_phase_salt_pct: float) -> float:
    """Lower end of the water activity that a product with so much salt in its water may have."""
    dissolved_pct = min(water_phase_salt_pct, SATURATED_PCT)
    return water_activity(molality_of_water_phase(dissolved_pct)) - BELOW_PLAIN - BELOW_PER_SALT_PCT * dissolved_pct


def _mistakes(
    *, green_g: float, water_pct: float, salt_pct: float, loss_pct: float, protein_pct: float | None
) -> list[str | None]:
    found = [
        not_above_zero("green weight", green_g, "g", high=100_000.0),
        *raw_mistakes(salt_pct=salt_pct, water_pct=water_pct),
        outside("loss", loss_pct, "% of the green weight", low=-5.0, high=90.0),
    ]
    if protein_pct is not None:
        found.append(
            outside(
                "protein of the raw meat",
                protein_pct,
                "%",
                low=5.0,
                high=35.0,
                cure=fraction_mix_up(protein_pct, low_pct=1.0),
            )
        )
    if not any(found) and water_pct - loss_pct - salt_pct <= 0.0:
        found.append(
            f"loss is {loss_pct:g} %; with {water_pct:g} % water and {salt_pct:g} % salt the meat can lose less than {water_pct - salt_pct:g} %"
        )
    return found


def raw_mistakes(*, salt_pct: float, water_pct: float | None) -> list[str | None]:
    """Say what cannot be about the raw meat and its salt, per cent of the green weight; None: by the cut."""
    return [
        None
        if water_pct is None
        else outside(
            "water of the raw meat", water_pct, "%", low=30.0, high=85.0, cure=fraction_mix_up(water_pct, low_pct=1.0)
        ),
        outside("salt", salt_pct, "% of the green weight", low=0.0, high=15.0),
    ]


def fractions_typed(*, salt_pct: float, loss_pct: float) -> list[str | None]:
    """Name shares typed as fractions. For figures typed by a person: a piece that has just begun to dry may well have lost 0.3 %."""
    return [
        None
        if value == 0.0
        else outside(f"{thing} as typed", value, "%", low=low, high=90.0, cure=fraction_mix_up(value, low_pct=low))
        for thing, value, low in (("salt", salt_pct, 0.1), ("loss", loss_pct, 1.0))
    ]
