"""What no single option can tell: roles missing, states that are not safe, figures that contradict each other."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from dryward.core.chamber import CONTACT_ROLES, HUMIDITY_ROLES, Chamber, Limits
from dryward.settings.mistakes import NOTHING, Findings
from dryward.settings.sources import Device
from dryward.settings.tables import ServiceSettings
from dryward.settings.wiring import (
    check_lines,
    check_one_rack,
    check_pretended_air,
    check_sources,
    check_twice,
    check_values,
)

MAY_BE_SAFE_ON = frozenset({"fan", "lamp", "buzzer"})
HEAT_DEPENDS_ON = frozenset({"control-air", "limit-air"})
SLOWEST_FOR_HEAT_S = 10.0
MECHANICAL_CYCLE_S = 20.0  # relay makers' manuals: no mechanical relay should switch more often
ORDERED = (
    ("over_setpoint_s", "over_setpoint_trip_s", "First heat goes off, then it trips: leave a minute between them."),
    ("heat_stale_s", "trip_stale_s", "First heat goes off, later it is a trip: 10 s and 60 s suit most."),
    (
        "outage_go_on_s",
        "outage_ramp_s",
        "A short power cut goes on, a longer one ramps back: 300 s and 3600 s suit most.",
    ),
    (
        "over_setpoint_k",
        "over_top_step_k",
        "The trip above the hottest step stands over the limit above each setpoint.",
    ),
)


def cross_check(
    chamber: Chamber,
    devices: Mapping[str, Device],
    service: ServiceSettings,
    raw: Mapping[str, Any],
    found: Findings,
) -> None:
    """Note every mistake between options. ``raw`` tells what the owner wrote where a table could not be read."""
    check_lines(chamber, devices.values(), found)
    check_twice(devices.values(), found)
    check_sources(chamber, _keys(raw, "devices"), found)
    check_values(chamber, devices, found)
    check_one_rack(chamber, found)
    check_pretended_air(chamber, devices, service, found)
    if len(chamber.sensors) == len(_keys(raw, "sensors")):  # else the one that is missing may be one that was mistyped
        _needs_control_air(chamber, found)
    _one_control_air(chamber, found)
    _ratings(chamber, found)
    _feedback(chamber, found)
    _fresh(chamber, found)
    _safe_states(chamber, found)
    _heater_cycle(chamber, found)
    _tuned_on(chamber, found)
    _schedules(chamber, found)
    _limits_in_order(chamber.limits, found)


def _keys(raw: Mapping[str, Any], table: str) -> list[str]:
    inner = raw.get(table)
    return list(inner) if isinstance(inner, Mapping) else []


def _needs_control_air(chamber: Chamber, found: Findings) -> None:
    movers = [o.name for o in chamber.outputs if o.name in ("heater", "cooler")]
    if movers and not any(s.role == "control-air" for s in chamber.sensors):
        found.add(
            "sensors",
            NOTHING,
            limit=f'with a {" and a ".join(movers)}, one sensor with role = "control-air" is needed',
            cure="Give the sensor that measures the air around the meat this role.",
        )


def _one_control_air(chamber: Chamber, found: Findings) -> None:
    controls = [s for s in chamber.sensors if s.role == "control-air"]
    for extra in controls[1:]:
        found.add(
            f"sensors.{extra.name}.role",
            extra.role,
            limit=f"one control-air sensor; sensors.{controls[0].name} is it already",
            cure='Give the second one role = "limit-air": it then guards the limits.',
        )


def _ratings(chamber: Chamber, found: Findings) -> None:
    for sensor in chamber.sensors:
        limit = ""
        if sensor.role not in CONTACT_ROLES and sensor.rated_low >= sensor.rated_high:
            limit = f"above rated_low = {sensor.rated_low:g}"
        elif sensor.role in HUMIDITY_ROLES and not 0.0 <= sensor.rated_low < sensor.rated_high <= 100.0:
            limit = "rated_low and rated_high of a humidity lie within 0 and 100 %RH"
        if limit:
            key = f"sensors.{sensor.name}.rated_high"
            found.add(key, sensor.rated_high, limit=limit, cure="Take both from the datasheet.")


def _feedback(chamber: Chamber, found: Findings) -> None:
    outputs = {o.name for o in chamber.outputs}
    for sensor in chamber.sensors:
        switched = sensor.role.removesuffix("-feedback")
        if sensor.role.endswith("-feedback") and switched not in outputs:
            found.add(
                f"sensors.{sensor.name}.role",
                sensor.role,
                limit=f"needs [outputs.{switched}], whose answer it is",
                cure=f"Add [outputs.{switched}] or take the sensor out.",
            )


def _fresh(chamber: Chamber, found: Findings) -> None:
    if not any(o.name == "heater" for o in chamber.outputs):
        return
    for sensor in chamber.sensors:
        if sensor.role in HEAT_DEPENDS_ON and sensor.fresh_s > SLOWEST_FOR_HEAT_S:
            found.add(
                f"sensors.{sensor.name}.fresh_s",
                sensor.fresh_s,
                limit=f"at most {SLOWEST_FOR_HEAT_S:g} s for a sensor that heat depends on",
                cure="Set it to 10 or less; a sensor that answers more slowly cannot guard a heater.",
            )


def _safe_states(chamber: Chamber, found: Findings) -> None:
    for output in chamber.outputs:
        if output.safe_on and output.name not in MAY_BE_SAFE_ON:
            limit = "true only for " + ", ".join(sorted(MAY_BE_SAFE_ON))
            cure = f"Take the line out: in doubt the {output.name} must be off."
            found.add(f"outputs.{output.name}.safe_on", True, limit=limit, cure=cure)


def _heater_cycle(chamber: Chamber, found: Findings) -> None:
    """A cycle too short for the heater's switch: it could only be all on or all off, or wears out."""
    heater = next((o for o in chamber.outputs if o.name == "heater"), None)
    weighed = (
        "outputs.heater.min_on_s",
        "outputs.heater.min_off_s",
        "outputs.heater.rated_operations",
        "control.cycle_s",
    )
    if heater is None or found.spoils(*weighed):
        return
    shortest = heater.min_on_s + heater.min_off_s
    cycle_s = chamber.control.cycle_s
    if cycle_s < shortest:
        limit = f"at least {shortest:g} s, the heater's min_on_s and min_off_s together"
        found.add("control.cycle_s", cycle_s, limit=limit, cure="Lengthen the cycle, or shorten the heater's times.")
    elif heater.rated_operations > 0 and cycle_s < MECHANICAL_CYCLE_S:
        limit = f"at least {MECHANICAL_CYCLE_S:g} s for a heater whose relay wears (rated_operations above 0)"
        cure = "Lengthen the cycle; for a solid-state relay write rated_operations = 0 in [outputs.heater]."
        found.add("control.cycle_s", cycle_s, limit=limit, cure=cure)


def _tuned_on(chamber: Chamber, found: Findings) -> None:
    """The newer tuning wins, so that what stands there has to be a day that can be compared."""
    plant = chamber.control.plant
    if plant is None or not plant.tuned_on or found.spoils("control.plant.tuned_on"):
        return
    try:
        date.fromisoformat(plant.tuned_on)
        written = len(plant.tuned_on) == len("YYYY-MM-DD")
    except ValueError:
        written = False
    if not written:
        cure = "Write the day of the tuning as 'dryward tune show' prints it: the newer tuning is the one that counts."
        found.add("control.plant.tuned_on", plant.tuned_on, limit="a day as YYYY-MM-DD", cure=cure)


def _schedules(chamber: Chamber, found: Findings) -> None:
    """What comes again and again has an output to switch and is over before it comes again."""
    outputs = {o.name for o in chamber.outputs}
    for word, output in (("stir", "fan"), ("airing", "vent"), ("defrost", "cooler")):
        every, length = f"{word}_every_s", f"{word}_s"
        every_s, length_s = getattr(chamber.control, every), getattr(chamber.control, length)
        if every_s <= 0.0 or found.spoils(f"control.{every}", f"control.{length}"):
            continue
        if output not in outputs and not found.spoils(f"outputs.{output}"):
            cure = f"Add [outputs.{output}], or take the line out."
            found.add(f"control.{every}", every_s, limit=f"needs [outputs.{output}]", cure=cure)
        if length_s >= every_s:
            cure = "It would never stop: shorten it, or let it come less often."
            found.add(f"control.{length}", length_s, limit=f"below {every} = {every_s:g}", cure=cure)


def _limits_in_order(limits: Limits, found: Findings) -> None:
    for first, second, cure in ORDERED:
        low, high = getattr(limits, first), getattr(limits, second)
        if low >= high and not found.spoils(f"limits.{first}", f"limits.{second}"):
            found.add(f"limits.{second}", high, limit=f"above {first} = {low:g}", cure=cure)
