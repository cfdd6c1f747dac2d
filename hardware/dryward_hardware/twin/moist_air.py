"""Moist air at the twin's walls and surfaces: saturation pressure, humidity ratio, enthalpies.

ASHRAE Handbook Fundamentals 2017, chapter 1 (equations 5, 6, 20, 30). Enthalpies count from 0 degC, liquid water.
"""

from __future__ import annotations

from math import exp, log

PRESSURE_PA = 101_325.0
RATIO = 0.621945  # molar mass of water over that of dry air
AIR_J_PER_KGK = 1006.0
VAPOUR_J_PER_KGK = 1860.0
WATER_J_PER_KGK = 4186.0
VAPOUR_AT_ZERO_J_PER_KG = 2_501_000.0


def saturation_pa(air_c: float) -> float:
    """Return the vapour pressure over liquid water, or over ice below 0 degC (-100..200 degC)."""
    t = air_c + 273.15
    if air_c < 0.0:
        return exp(
            -5.6745359e3 / t
            + 6.3925247
            + t * (-9.677843e-3 + t * (6.2215701e-7 + t * (2.0747825e-9 - 9.484024e-13 * t)))
            + 4.1635019 * log(t)
        )
    return exp(
        -5.8002206e3 / t + 1.3914993 + t * (-4.8640239e-2 + t * (4.1764768e-5 - 1.4452093e-8 * t)) + 6.5459673 * log(t)
    )


def humidity_ratio(vapour_pa: float) -> float:
    """Return kg of vapour per kg of dry air; pressures near boiling are held at nine tenths of the air's own."""
    vapour_pa = min(vapour_pa, 0.9 * PRESSURE_PA)
    return RATIO * vapour_pa / (PRESSURE_PA - vapour_pa)


def vapour_pa(ratio: float) -> float:
    """Return the vapour pressure of air with this humidity ratio."""
    return PRESSURE_PA * ratio / (RATIO + ratio)


def saturated_ratio(air_c: float) -> float:
    """Return the humidity ratio of saturated air."""
    return humidity_ratio(saturation_pa(air_c))


def vapour_j_per_kg(vapour_c: float) -> float:
    """Return the enthalpy of vapour."""
    return VAPOUR_AT_ZERO_J_PER_KG + VAPOUR_J_PER_KGK * vapour_c


def latent_j_per_kg(surface_c: float) -> float:
    """Return the heat that a kg of water takes to leave a surface."""
    return VAPOUR_AT_ZERO_J_PER_KG + (VAPOUR_J_PER_KGK - WATER_J_PER_KGK) * surface_c
