"""What no single option can tell: lines used twice, roles missing, figures that contradict each other."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from dryward.core.chamber import CONTACT_ROLES, HUMIDITY_ROLES, Chamber, Limits
from dryward.settings.devices import Device
from dryward.settings.mistakes import NOTHING, Findings, meant
from dryward.settings.tables import ServiceSettings

MAY_BE_SAFE_ON = frozenset({"fan", "lamp", "buzzer"})
SIMULATED = frozenset({"twin", "recorded"})
HEAT_DEPENDS_ON = frozenset({"control-air", "limit-air"})


def cross_check(chamber: Chamber, devices: Iterable[Device], service: ServiceSettings, raw: Mapping[str, Any], found: Findings) -> None:
    """Note every mistake between options. ``raw`` tells what the owner wrote where a table could not be read."""
    known = {d.name: d for d in devices}
    written = _keys(raw, "devices")
    _lines(chamber, known.values(), found)
    _sources(chamber, written, found)
    _roles(chamber, whole=len(chamber.sensors) == len(_keys(raw, "sensors")), found=found)
    _feedback(chamber, found)
    _fresh(chamber, found)
    _safe_states(chamber, found)
    _real_heat_on_pretended_air(chamber, known, service, found)
    limits(chamber.limits, found)


def _keys(raw: Mapping[str, Any], table: str) -> list[str]:
    inner = raw.get(table)
    return list(inner) if isinstance(inner, Mapping) else []


def _lines(chamber: Chamber, devices: Iterable[Device], found: Findings) -> None:
    """Every line serves one thing."""
    users: dict[int, str] = {}
    wired = [(f"devices.{d.name}.gpio", d.options["gpio"]) for d in devices if "gpio" in d.options]
    wired += [(f"outputs.{o.name}.gpio", o.gpio) for o in chamber.outputs if o.gpio is not None]
    for key, gpio in wired:
        assert isinstance(gpio, int)
        if gpio in users:
            found.add(key, gpio, limit=f"a line of its own; {users[gpio]} is {gpio} too", cure="Look at the wiring and give each its own number.")
        users.setdefault(gpio, key)


def _sources(chamber: Chamber, devices: list[str], found: Findings) -> None:
    """Every sensor and scale reads a known device, and no value twice."""
    taken: dict[tuple[str, str], str] = {}
    channels = [(f"sensors.{s.name}", s.device, s.reads or "") for s in chamber.sensors]
    channels += [(f"scales.{s.name}", s.device, s.reads or "weight") for s in chamber.scales]
    for key, device, reads in channels:
        if device not in devices:
            found.add(f"{key}.device", device, limit="the name of a [devices.NAME] table", cure=meant(device, devices))
        other = taken.setdefault((device, reads), key)
        if other != key:
            found.add(
                f"{key}.reads",
                reads,
                limit=f"each value of a device serves one sensor; {other} reads it already",
                cure="Name another value with 'reads', another device, or take one of the two out.",
            )
    scales = {s.name for s in chamber.scales}
    for sensor in chamber.sensors:
        if sensor.name in scales:
            found.add(f"scales.{sensor.name}", sensor.name, limit="a name that no sensor has", cure="Rename the scale or the sensor: readings go by name.")


def _roles(chamber: Chamber, *, whole: bool, found: Findings) -> None:
    """One control air where something heats or cools; never two. ``whole``: every sensor could be read."""
    controls = [s for s in chamber.sensors if s.role == "control-air"]
    for extra in controls[1:]:
        found.add(
            f"sensors.{extra.name}.role",
            extra.role,
            limit=f"one control-air sensor; sensors.{controls[0].name} is it already",
            cure='Give the second one role = "limit-air": it then guards the limits.',
        )
    movers = [o.name for o in chamber.outputs if o.name in ("heater", "cooler")]
    if movers and not controls and whole:
        found.add(
            "sensors",
            NOTHING,
            limit=f'with a {" and a ".join(movers)}, one sensor with role = "control-air" is needed',
            cure="Give the sensor that measures the air around the meat this role.",
        )
    for sensor in chamber.sensors:
        if sensor.rated_low >= sensor.rated_high and sensor.role not in CONTACT_ROLES:
            found.add(f"sensors.{sensor.name}.rated_high", sensor.rated_high, limit=f"above rated_low = {sensor.rated_low:g}", cure="Take both from the datasheet.")
        elif sensor.role in HUMIDITY_ROLES and not (sensor.rated_low >= 0.0 and sensor.rated_high <= 100.0):
            found.add(f"sensors.{sensor.name}.rated_high", sensor.rated_high, limit="rated_low and rated_high of a humidity lie within 0 and 100 %RH", cure="Take both from the datasheet.")


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
        if sensor.role in HEAT_DEPENDS_ON and sensor.fresh_s > 10.0:
            found.add(
                f"sensors.{sensor.name}.fresh_s",
                sensor.fresh_s,
                limit="at most 10 s for a sensor that heat depends on",
                cure="Set it to 10 or less; a sensor that answers more slowly cannot guard a heater.",
            )


def _safe_states(chamber: Chamber, found: Findings) -> None:
    for output in chamber.outputs:
        if output.safe_on and output.name not in MAY_BE_SAFE_ON:
            found.add(
                f"outputs.{output.name}.safe_on",
                True,
                limit="true only for " + ", ".join(sorted(MAY_BE_SAFE_ON)),
                cure=f"Take the line out: in doubt the {output.name} must be off.",
            )


def _real_heat_on_pretended_air(chamber: Chamber, devices: Mapping[str, Device], service: ServiceSettings, found: Findings) -> None:
    """A simulation or a recording may not switch a real heater: nothing would notice the real heat."""
    air = next((s for s in chamber.sensors if s.role == "control-air"), None)
    kind = devices[air.device].kind if air and air.device in devices else ""
    for output in chamber.outputs:
        if kind in SIMULATED and output.name in ("heater", "cooler") and output.gpio is not None and service.pin_factory != "mock":
            found.add(
                f"outputs.{output.name}.gpio",
                output.gpio,
                limit=f"no real line while the control air comes from a device of kind '{kind}'",
                cure='Take the gpio out, wire a real sensor, or set pin_factory = "mock" in [service].',
            )


def limits(given: Limits, found: Findings) -> None:
    """Figures that must stand in order."""
    for first, second, cure in _orders():
        low, high = getattr(given, first), getattr(given, second)
        if low >= high and not found.spoils(f"limits.{first}", f"limits.{second}"):
            found.add(f"limits.{second}", high, limit=f"above {first} = {low:g}", cure=cure)


def _orders() -> Iterator[tuple[str, str, str]]:
    yield "over_setpoint_s", "over_setpoint_trip_s", "First heat goes off, later it is a trip: leave at least a minute between them."
    yield "heat_stale_s", "trip_stale_s", "First heat goes off, later it is a trip: 10 s and 60 s suit most."
    yield "outage_go_on_s", "outage_ramp_s", "A short power cut goes on, a longer one ramps back: 300 s and 3600 s suit most."
    yield "over_setpoint_k", "over_top_step_k", "The trip above the hottest step stands over the limit above each setpoint."
