"""Does a program suit a chamber: outputs for what it asks, sensors rated for where it goes."""

from __future__ import annotations

from collections.abc import Sequence

from dryward.core.chamber import Chamber, Sensor
from dryward.core.program import Program, Step
from dryward.settings.mistakes import Findings

WARM_C = 30.0  # no room keeps a chamber so warm without a heater
COLD_C = 15.0  # nor so cold without a cooler
MOISTURE_MOVERS = frozenset({"humidifier", "dehumidifier", "vent"})


def check_program_on_chamber(program: Program, chamber: Chamber, where: str = "program") -> None:
    """Raise SettingsError where the chamber cannot do, or its sensors cannot see, what the program asks.

    ``where`` names the program's file in the mistakes.
    """
    found = Findings(where)
    for step in program.steps:
        _check_step(step, chamber, f"steps.{step.name}", found)
    if program.at_end.action == "keep-warm" and program.at_end.air_c is not None:
        _check_air(program.at_end.air_c, chamber, "at_end.air_c", found)
    found.stop_if_any({"steps": [{"name": step.name} for step in program.steps]})


def _check_step(step: Step, chamber: Chamber, place: str, found: Findings) -> None:
    roles = {s.role for s in chamber.sensors}
    if step.air_c is not None:
        _check_air(step.air_c, chamber, f"{place}.air_c", found)
    if step.rh_pct is not None and not MOISTURE_MOVERS & {o.name for o in chamber.outputs}:
        found.add(
            f"{place}.rh_pct",
            step.rh_pct,
            limit="needs a humidifier, a dehumidifier or a vent",
            cure="Take the line out, or add the output to the chamber file.",
        )
    for key in ("rh_pct", "safe_rh_low_pct", "safe_rh_high_pct"):
        if getattr(step, key) is not None and "humidity" not in roles:
            found.add(
                f"{place}.{key}",
                getattr(step, key),
                limit='needs a sensor with role = "humidity"',
                cure="Take the line out, or add the sensor to the chamber file.",
            )
    if step.ends.core_c is not None and "core" not in roles:
        found.add(
            f"{place}.ends.core_c",
            step.ends.core_c,
            limit='needs a sensor with role = "core"',
            cure="Take the line out, or add a core probe to the chamber file.",
        )
    for key in ("safe_air_low_c", "safe_air_high_c"):
        if getattr(step, key) is not None and "control-air" not in roles:
            found.add(
                f"{place}.{key}",
                getattr(step, key),
                limit='needs a sensor with role = "control-air"',
                cure="Take the line out, or add the sensor to the chamber file.",
            )


def _check_air(air_c: float, chamber: Chamber, key: str, found: Findings) -> None:
    outputs = {o.name for o in chamber.outputs}
    limits = chamber.limits
    if air_c > limits.max_air_c:
        found.add(
            key,
            air_c,
            limit=f"at most {limits.max_air_c:g} degC, the chamber's max_air_c",
            cure="Lower the step; raise [limits] max_air_c only if plate, walls and cut-out allow it.",
        )
        return
    if air_c > limits.max_air_c - limits.over_setpoint_k:
        found.add(
            key,
            air_c,
            limit=f"at most {limits.max_air_c - limits.over_setpoint_k:g} degC: it trips at max_air_c = "
            f"{limits.max_air_c:g}, and only {limits.over_setpoint_k:g} K (over_setpoint_k) above a step goes the heat off",
            cure="Lower the step; raise [limits] max_air_c only if plate, walls and cut-out allow it.",
        )
    if air_c >= WARM_C and "heater" not in outputs:
        found.add(
            key,
            air_c,
            limit="needs a heater; this chamber has none",
            cure="Choose another program, or add [outputs.heater] to the chamber file.",
        )
    if air_c <= COLD_C and "cooler" not in outputs:
        found.add(
            key,
            air_c,
            limit="needs a cooler; this chamber has none",
            cure="Choose another program, or write watch_only = true for a rest in a fridge.",
        )
    if not outputs & {"heater", "cooler"} and COLD_C < air_c < WARM_C:
        found.add(
            key,
            air_c,
            limit="needs a heater or a cooler; this chamber has none",
            cure="Write watch_only = true, or add the output to the chamber file.",
        )
    if not any(s.role == "control-air" for s in chamber.sensors):
        cure = "Give the sensor that measures the air around the meat this role, in the chamber file."
        found.add(key, air_c, limit='needs a sensor with role = "control-air"', cure=cure)
    airs = [s for s in chamber.sensors if s.role in ("control-air", "limit-air")]
    _check_ratings(airs, air_c, min(limits.over_top_step_k, limits.max_air_c - air_c), key, found)


def _check_ratings(airs: Sequence[Sensor], air_c: float, margin_k: float, key: str, found: Findings) -> None:
    """Every sensor of the air must see the setpoint, and above it as far as the trip."""
    needed = air_c + margin_k
    blind = [s for s in airs if s.rated_high < needed]
    if blind:
        lowest = min(s.rated_high for s in blind)
        found.add(
            key,
            air_c,
            limit=f"{_named(blind, 'to')}; the step needs {needed:g}: its own {air_c:g} and {margin_k:g} K up to the trip",
            cure=f"Use sensors rated to {needed:g} degC or more for the air, such as a DS18B20, an SHT4x or a PT100, "
            f"or lower the step to {lowest - margin_k:g}.",
        )
    cold = [s for s in airs if s.rated_low > air_c]
    if cold:
        cure = "Use a sensor rated for the cold, or raise the step."
        found.add(key, air_c, limit=f"{_named(cold, 'from')}; the step needs {air_c:g}", cure=cure)


def _named(sensors: Sequence[Sensor], end: str) -> str:
    """Name sensors with one end of their rating."""
    return ", ".join(
        f"sensor '{s.name}' ({s.role}) is rated {end} {s.rated_high if end == 'to' else s.rated_low:g} degC"
        for s in sensors
    )
