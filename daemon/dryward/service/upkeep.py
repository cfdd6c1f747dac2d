"""Energy, wear and the moisture of the air as ``dryward status`` shows them, worked out when somebody asks."""

from __future__ import annotations

from typing import Any

from dryward.core.layout import Layout
from dryward.core.state import State, energy_j, operations
from dryward.science.air import air_mistakes, evaporation_g_per_m2_h, moist_air, wet_bulb_c
from dryward.science.energy import kwh_per_kg, least_kwh_per_kg, years_left

JOULES_PER_KWH = 3.6e6
DAY_S = 86_400.0
SOONEST_S = 3600.0  # a pace is told after an hour


def energy(layout: Layout, state: State) -> dict[str, Any]:
    """Return what the run's energy (``energy_kwh``) has come to per kg of water removed, and the least that this water takes (at the wet bulb, else the air)."""
    kwh = energy_j(layout, state) / JOULES_PER_KWH
    weighed = [(p.piece.green_g, p.weight_g if p.final_g is None else p.final_g) for p in state.pieces]
    water_g = sum(green_g - now_g for green_g, now_g in weighed if now_g is not None)
    air_c, rh_pct = _air(layout, state)
    surface_c = air_c
    if air_c is not None and rh_pct is not None and _possible(layout, air_c, rh_pct):
        surface_c = wet_bulb_c(air_c=air_c, rh_pct=rh_pct, pressure_pa=layout.chamber.pressure_pa)
    per_kg = kwh_per_kg(kwh, water_g)
    return {
        "water_g": round(water_g, 1),
        "kwh_per_kg_water": None if per_kg is None else round(per_kg, 2),
        "least_kwh_per_kg_water": None if surface_c is None else round(least_kwh_per_kg(max(surface_c, 0.0)), 3),
    }


def relays(layout: Layout, state: State) -> dict[str, dict[str, Any]]:
    """Return of each output that wears: operations in its life and in this run, per cent used, years left at this pace."""
    in_run = operations(state)
    lasted_s = (state.run.ended_s or state.now) - state.run.started_s if state.run.run_id else 0.0
    found: dict[str, dict[str, Any]] = {}
    for output, tally in zip(layout.chamber.outputs, state.tallies, strict=True):
        if not output.rated_operations:
            continue
        per_day = in_run[output.name] / lasted_s * DAY_S if lasted_s >= SOONEST_S else 0.0
        left = years_left(rated=output.rated_operations, used=tally.operations, per_day=per_day)
        found[output.name] = {
            "operations": tally.operations,
            "in_run": in_run[output.name],
            "used_pct": round(100.0 * tally.operations / output.rated_operations, 2),
            "years_left": None if left is None else round(left, 2),
        }
    return found


def air_moisture(layout: Layout, state: State) -> dict[str, float] | None:
    """Return dew point, wet bulb, vapour deficit and drying potential of the chamber's air; None where it is not known."""
    air_c, rh_pct = _air(layout, state)
    if air_c is None or rh_pct is None or not _possible(layout, air_c, rh_pct):
        return None
    pressure_pa = layout.chamber.pressure_pa
    air = moist_air(dry_bulb_c=air_c, rh_pct=rh_pct, pressure_pa=pressure_pa)
    return {
        "dew_point_c": round(air.dew_point_c, 2),
        "wet_bulb_c": round(air.wet_bulb_c, 2),
        "vapour_pressure_deficit_pa": round(air.vapour_pressure_deficit_pa, 1),
        "evaporation_g_per_m2_h": round(evaporation_g_per_m2_h(air_c=air_c, rh_pct=rh_pct, pressure_pa=pressure_pa), 1),
    }


def _air(layout: Layout, state: State) -> tuple[float | None, float | None]:
    air_c = None if layout.air is None else state.sensors[layout.air].good
    return air_c, None if layout.humidity is None else state.sensors[layout.humidity].good


def _possible(layout: Layout, air_c: float, rh_pct: float) -> bool:
    return not air_mistakes(dry_bulb_c=air_c, rh_pct=rh_pct, pressure_pa=layout.chamber.pressure_pa)
