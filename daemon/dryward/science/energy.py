"""What drying costs: energy per water removed beside the least that evaporation takes, and what a relay has left."""

from __future__ import annotations

from dryward.science.air import latent_heat_kj_per_kg

KJ_PER_KWH = 3600.0
DAYS_PER_YEAR = 365.25


def least_kwh_per_kg(water_c: float) -> float:
    """Return what evaporating 1 kg of water at this temperature takes, kWh: its latent heat and nothing else."""
    return latent_heat_kj_per_kg(water_c) / KJ_PER_KWH


def kwh_per_kg(energy_kwh: float, water_g: float) -> float | None:
    """Return the energy per kg of water removed; None while so little is gone that the figure would be noise (10 g)."""
    return None if water_g < 10.0 else 1000.0 * energy_kwh / water_g


def years_left(*, rated: int, used: int, per_day: float) -> float | None:
    """Return how long a relay lasts at this pace, years, 0 when its life is over; None when it does not wear or does not switch."""
    if rated <= 0 or per_day <= 0.0:
        return None
    return max(0, rated - used) / per_day / DAYS_PER_YEAR
