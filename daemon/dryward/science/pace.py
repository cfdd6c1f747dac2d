"""How much faster a piece dries in other air: the drying power of the conditions, under several views of what limits it.

Inside a piece water moves by diffusion, which follows the temperature (Arrhenius; 18-48 kJ/mol covers the published figures for
meat, fruit and grain). At its surface it leaves with the evaporation that the air allows (wet-bulb balance). Which of both limits
is not known beforehand, so several mixtures are carried along and the weighings decide.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import fmean

from dryward.science import air as moist
from dryward.science.numerics import interpolate

GAS_KJ = 8.314e-3
ROOM_PA = 1200.0
"""Vapour pressure where no humidity is known: a room at 20 degC and 50 %RH. Warming that air does not change it."""

MOST = 120
"""So many samples describe the past air; a fast log is averaged."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AirAt:
    """Conditions at a moment; ``rh_pct`` None where nobody measured it."""

    t_s: float
    air_c: float
    rh_pct: float | None = None


@dataclass(frozen=True, slots=True)
class Limit:
    """A view of what limits drying: activation energy inside, share of the surface, and how much it is trusted beforehand."""

    energy_kj: float
    surface: float
    trust: float


LIMITS: tuple[Limit, ...] = (
    *(
        Limit(energy, surface, part * trust)
        for surface, trust in ((0.0, 1.0), (0.35, 1.4), (0.7, 1.0))
        for energy, part in ((18.0, 0.25), (33.0, 0.5), (48.0, 0.25))
    ),
    Limit(33.0, 1.0, 0.6),
)
MIDDLE = Limit(33.0, 0.35, 1.0)
"""The view in the middle, where nothing tells them apart."""


def complete(airs: Sequence[AirAt], known: Sequence[AirAt] = ()) -> list[AirAt]:
    """Fill in missing humidity: the vapour pressure last known (from ``known`` too), or that of a room."""
    pressure = ROOM_PA
    for air in known:
        if air.rh_pct is not None:
            pressure = moist.vapour_pressure_pa(air_c=air.air_c, rh_pct=air.rh_pct)
    found = []
    for air in airs:
        if air.rh_pct is None:
            rh = min(95.0, 100.0 * pressure / moist.saturation_pa(air.air_c))
            found.append(AirAt(t_s=air.t_s, air_c=air.air_c, rh_pct=rh))
        else:
            pressure = moist.vapour_pressure_pa(air_c=air.air_c, rh_pct=air.rh_pct)
            found.append(air)
    return found


def averaged(airs: Sequence[AirAt]) -> list[AirAt]:
    """Average a long log of conditions into at most ``MOST`` samples. Expects sorted times."""
    if len(airs) <= MOST:
        return list(airs)
    size = -(-len(airs) // MOST)
    found = []
    for place in range(0, len(airs), size):
        part = airs[place : place + size]
        humid = [air.rh_pct for air in part if air.rh_pct is not None]
        found.append(
            AirAt(
                t_s=fmean(air.t_s for air in part),
                air_c=fmean(air.air_c for air in part),
                rh_pct=fmean(humid) if humid else None,
            )
        )
    return found


@dataclass(frozen=True, slots=True)
class Power:
    """What drying depends on in a state of air: inverse of (gas constant times temperature), mol/kJ, and log evaporation."""

    inverse: float
    evaporation: float


def power(air: AirAt) -> Power:
    """Reduce conditions, humidity filled in, to the two figures that drying depends on."""
    rh_pct = 50.0 if air.rh_pct is None else min(air.rh_pct, 99.0)
    evaporation = moist.evaporation_g_per_m2_h(air_c=air.air_c, rh_pct=rh_pct)
    return Power(1.0 / (GAS_KJ * (air.air_c + 273.15)), math.log(max(evaporation, 1.0)))


STANDARD = power(AirAt(t_s=0.0, air_c=60.0, rh_pct=10.0))
"""Air to which the pace of past runs is referred."""


def log_power(air: Power, reference: Power, limit: Limit) -> float:
    """Return the log of the drying power of ``air`` over that of ``reference``."""
    inside = limit.energy_kj * (reference.inverse - air.inverse)
    return (1.0 - limit.surface) * inside + limit.surface * (air.evaporation - reference.evaporation)


def varied(powers: Sequence[Power]) -> bool:
    """Tell whether the air changed enough for the weighings to show what limits drying: by 5 % or more."""
    inverses, evaporations = [one.inverse for one in powers], [one.evaporation for one in powers]
    return MIDDLE.energy_kj * (max(inverses) - min(inverses)) > 0.05 or max(evaporations) - min(evaporations) > 0.07


def gains(
    times: Sequence[float], sampled: Sequence[float], powers: Sequence[Power], reference: Power, limit: Limit
) -> list[float]:
    """Return the time between each two ``times``, weighted by the drying power of the air sampled around them."""
    speeds = [math.exp(log_power(air, reference, limit)) for air in powers]
    whole = [0.0]
    for (before_s, before), (after_s, after) in pairwise(zip(sampled, speeds, strict=True)):
        whole.append(whole[-1] + 0.5 * (before + after) * (after_s - before_s))

    def passed(t: float) -> float:
        if t <= sampled[0]:
            return (t - sampled[0]) * speeds[0]
        if t >= sampled[-1]:
            return whole[-1] + (t - sampled[-1]) * speeds[-1]
        return interpolate(t, sampled, whole)

    return [max(1e-9, passed(end) - passed(start)) for start, end in pairwise(times)]
