"""Salt in water: molality and water activity of NaCl by the Pitzer equation at 25 degC.

Parameters for NaCl: beta0 0.0765, beta1 0.2664, Cphi 0.00127, Aphi 0.3915. Agrees with the osmotic coefficients of
Hamer & Wu 1972 within 3e-4 in water activity to 5.5 mol/kg and 1e-3 to saturation. Raoult's law is 0.06 wrong at 6 mol/kg.
Temperature matters little: over saturated NaCl the air stands at 75.7 %RH at 10 degC and 74.1 at 70 (OIML R 121, Table 1).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from dryward.science.figures import not_above_zero, outside, refuse

NACL_G_PER_MOL = 58.443
WATER_KG_PER_MOL = 0.0180153
SATURATED_MOL_PER_KG = 6.144
"""No more NaCl than this dissolves at 25 degC (Hamer & Wu 1972): further salt stays as crystals and binds no more water."""

SATURATED_PCT = 100.0 * SATURATED_MOL_PER_KG / (SATURATED_MOL_PER_KG + 1000.0 / NACL_G_PER_MOL)
"""The same as salt per 100 g of brine: 26.4."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Brine:
    """``saturated``: there is more salt than dissolves; the activity is then that of the saturated brine."""

    molality_mol_per_kg: float
    salt_pct_of_brine: float
    water_activity: float
    saturated: bool


def brine(*, salt_g: float, water_g: float) -> Brine:
    """Describe a brine of so much salt in so much water. Raises BadFigures."""
    refuse(outside("salt", salt_g, "g", low=0.0, high=1e6), not_above_zero("water", water_g, "g", high=1e6))
    molality = 1000.0 * salt_g / NACL_G_PER_MOL / water_g
    return Brine(
        molality_mol_per_kg=molality,
        salt_pct_of_brine=100.0 * salt_g / (salt_g + water_g),
        water_activity=water_activity(molality),
        saturated=molality > SATURATED_MOL_PER_KG,
    )


def water_activity(molality_mol_per_kg: float) -> float:
    """Water activity of NaCl in water at 25 degC, 1 for pure water; beyond saturation that of the saturated brine."""
    m = min(molality_mol_per_kg, SATURATED_MOL_PER_KG)
    root = math.sqrt(m)
    osmotic = 1.0 - 0.3915 * root / (1.0 + 1.2 * root) + m * (0.0765 + 0.2664 * math.exp(-2.0 * root)) + m * m * 0.00127
    return math.exp(-2.0 * m * osmotic * WATER_KG_PER_MOL)


def molality_of_water_phase(salt_pct: float) -> float:
    """Molality of a water phase with so much salt per 100 g of salt and water together."""
    return 1000.0 * salt_pct / (100.0 - salt_pct) / NACL_G_PER_MOL
