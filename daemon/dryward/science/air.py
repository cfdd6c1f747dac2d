"""Moist air: dew point, wet bulb and what follows from them, by the ASHRAE equations (2017 Fundamentals, ch. 1) of psychrolib."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import psychrolib

from dryward.science.figures import celsius_mix_up, outside, refuse

psychrolib.SetUnitSystem(psychrolib.SI)  # once: it would compile everything again where numba is installed

SEA_LEVEL_PA = 101_325.0

DRIEST_PA = 0.01
"""Air without any water has no dew point; drier air than this (a dew point of -91 degC) is computed as this."""

FULLEST = 0.99
"""Vapour above this share of the air pressure is steam, not moist air: the humidity ratio runs away."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MoistAir:
    """Temperatures in degC; ratio, enthalpy and volume per kg of dry air (enthalpy 0 at 0 degC dry); pressures in Pa."""

    dew_point_c: float
    wet_bulb_c: float
    humidity_ratio_kg_per_kg: float
    vapour_pressure_pa: float
    enthalpy_kj_per_kg: float
    specific_volume_m3_per_kg: float
    vapour_pressure_deficit_pa: float


def moist_air(*, dry_bulb_c: float, rh_pct: float, pressure_pa: float = SEA_LEVEL_PA) -> MoistAir:
    """Compute the state of moist air; every value is finite. Raises BadFigures for air that cannot be."""
    refuse(*air_mistakes(dry_bulb_c=dry_bulb_c, rh_pct=rh_pct, pressure_pa=pressure_pa))
    vapour_pa = vapour_pressure_pa(air_c=dry_bulb_c, rh_pct=rh_pct)
    ratio = float(psychrolib.GetHumRatioFromVapPres(vapour_pa, pressure_pa))
    return MoistAir(
        dew_point_c=dew_point_c(air_c=dry_bulb_c, rh_pct=rh_pct),
        wet_bulb_c=wet_bulb_c(air_c=dry_bulb_c, rh_pct=rh_pct, pressure_pa=pressure_pa),
        humidity_ratio_kg_per_kg=ratio,
        vapour_pressure_pa=vapour_pa,
        enthalpy_kj_per_kg=float(psychrolib.GetMoistAirEnthalpy(dry_bulb_c, ratio)) / 1000.0,
        specific_volume_m3_per_kg=float(psychrolib.GetMoistAirVolume(dry_bulb_c, ratio, pressure_pa)),
        vapour_pressure_deficit_pa=saturation_pa(dry_bulb_c) - vapour_pa,
    )


def air_mistakes(*, dry_bulb_c: float, rh_pct: float, pressure_pa: float) -> tuple[str, ...]:
    """List what is impossible about a state of air, one sentence each."""
    boiling = ""
    found = [
        outside("dry bulb", dry_bulb_c, "degC", low=-40.0, high=150.0, cure=celsius_mix_up(dry_bulb_c, high_c=150.0)),
        outside(
            "relative humidity",
            rh_pct,
            "%RH",
            low=0.0,
            high=100.0,
            cure="Calibrate the sensor" if 100.0 < rh_pct < 110.0 else "",
        ),
        outside("pressure", pressure_pa, "Pa", low=50_000.0, high=110_000.0, cure=_pascal_mix_up(pressure_pa)),
    ]
    if not any(found) and vapour_pressure_pa(air_c=dry_bulb_c, rh_pct=rh_pct) > FULLEST * pressure_pa:
        most = 100.0 * FULLEST * pressure_pa / saturation_pa(dry_bulb_c)
        boiling = f"relative humidity is {rh_pct:g} %RH; air of {dry_bulb_c:g} degC at {pressure_pa:g} Pa holds at most {most:.0f} %RH: above that it is steam"
    return tuple(mistake for mistake in (*found, boiling) if mistake)


def _pascal_mix_up(pressure_pa: float) -> str:
    for unit, factor in (("hPa", 100.0), ("kPa", 1000.0)):
        if 50_000.0 <= pressure_pa * factor <= 110_000.0:
            return f"If that was {unit}, write {pressure_pa * factor:g}"
    return ""


def saturation_pa(air_c: float) -> float:
    """Vapour pressure of water at saturation, Pa, -100 to 200 degC."""
    return float(psychrolib.GetSatVapPres(air_c))


def vapour_pressure_pa(*, air_c: float, rh_pct: float) -> float:
    """Partial pressure of the water in the air, Pa."""
    return max(rh_pct / 100.0 * saturation_pa(air_c), DRIEST_PA)


def dew_point_c(*, air_c: float, rh_pct: float) -> float:
    """Temperature at which this air begins to wet a surface, degC (frost point below 0)."""
    return float(psychrolib.GetTDewPointFromVapPres(air_c, vapour_pressure_pa(air_c=air_c, rh_pct=rh_pct)))


@lru_cache(maxsize=16)  # one look at the air asks several times
def wet_bulb_c(*, air_c: float, rh_pct: float, pressure_pa: float = SEA_LEVEL_PA) -> float:
    """Temperature that a wet surface takes in this air, degC. Air with more vapour than the pressure allows counts as nearly steam.

    Halves the interval here, since the library's own search goes astray where the air is above the boiling point.
    """
    vapour_pa = min(vapour_pressure_pa(air_c=air_c, rh_pct=rh_pct), FULLEST * pressure_pa)
    ratio = float(psychrolib.GetHumRatioFromVapPres(vapour_pa, pressure_pa))
    low_c = float(psychrolib.GetTDewPointFromVapPres(air_c, vapour_pa))
    high_c = min(air_c, float(psychrolib.GetTDewPointFromVapPres(air_c, 0.999 * pressure_pa)))
    while high_c - low_c > 1e-4:
        middle_c = (low_c + high_c) / 2.0
        if float(psychrolib.GetHumRatioFromTWetBulb(air_c, middle_c, pressure_pa)) > ratio:
            high_c = middle_c
        else:
            low_c = middle_c
    return (low_c + high_c) / 2.0


def latent_heat_kj_per_kg(water_c: float) -> float:
    """Heat that evaporates 1 kg of water, kJ/kg: the linear form in the ASHRAE wet-bulb equation, within 0.3 % of IAPWS-95 to 80 degC."""
    return 2501.0 - 2.326 * water_c


def evaporation_g_per_m2_h(
    *, air_c: float, rh_pct: float, pressure_pa: float = SEA_LEVEL_PA, heat_transfer_w_per_m2k: float = 25.0
) -> float:
    """Water that a fully wet surface gives to this air, g/m2/h: the drying potential. A drying piece gives less and less of it."""
    surface_c = wet_bulb_c(air_c=air_c, rh_pct=rh_pct, pressure_pa=pressure_pa)
    heat_w_per_m2 = heat_transfer_w_per_m2k * (air_c - surface_c)
    return max(0.0, 3600.0 * heat_w_per_m2 / latent_heat_kj_per_kg(max(surface_c, 0.0)))
