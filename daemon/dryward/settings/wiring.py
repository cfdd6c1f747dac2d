"""What is wired to what: every line serves one thing, every value is read once, every device is another one."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from types import MappingProxyType

from dryward.core.chamber import Chamber
from dryward.settings.mistakes import Findings, meant
from dryward.settings.sources import Device
from dryward.settings.tables import ServiceSettings

SIMULATED = frozenset({"twin", "recorded"})
AIR_VALUES, CELL_VALUES = ("temperature", "humidity"), ("weight", "counts")
GIVES: Mapping[str, tuple[str, ...]] = (
    MappingProxyType(  # the values of each kind of driver; the simulated name their own
        {"w1": ("temperature",), "input": ("state",)}
        | dict.fromkeys(("dht22", "dht11", "hwmon", "iio"), AIR_VALUES)
        | dict.fromkeys(("hx711", "nau7802"), CELL_VALUES)
    )
)


def check_lines(chamber: Chamber, devices: Iterable[Device], found: Findings) -> None:
    """Note a line that serves two things."""
    users: dict[object, str] = {}
    wired = [(f"devices.{d.name}.gpio", d.options["gpio"]) for d in devices if "gpio" in d.options]
    wired += [(f"outputs.{o.name}.gpio", o.gpio) for o in chamber.outputs if o.gpio is not None]
    for key, gpio in wired:
        if gpio in users:
            limit = f"a line of its own; {users[gpio]} is {gpio} too"
            found.add(key, gpio, limit=limit, cure="Look at the wiring and give each its own number.")
        users.setdefault(gpio, key)


def check_twice(devices: Iterable[Device], found: Findings) -> None:
    """Note two tables that describe the same thing: the second would be no second opinion."""
    seen: dict[str, str] = {}
    for device in devices:
        if "gpio" in device.options:
            continue  # told as a line used twice
        other = seen.setdefault(f"{device.kind} {sorted(device.options.items())}", device.name)
        if other != device.name:
            found.add(
                f"devices.{device.name}",
                None,
                limit=f"another device than devices.{other}, which has the same kind and options",
                cure=f"Let both sensors read devices.{other}, or write what tells the two apart: id, name, address.",
            )


def check_sources(chamber: Chamber, devices: Collection[str], found: Findings) -> None:
    """Note sensors and scales that read an unknown device, a value read already, or have one name."""
    taken: dict[tuple[str, str], str] = {}
    channels = [(f"sensors.{s.name}", s.device, s.reads or "") for s in chamber.sensors]
    channels += [(f"scales.{s.name}", s.device, s.reads or "") for s in chamber.scales]
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
    sensors = {s.name for s in chamber.sensors}
    for scale in chamber.scales:
        if scale.name in sensors:
            cure = "Rename the scale or the sensor: readings go by name."
            found.add(f"scales.{scale.name}", scale.name, limit="a name that no sensor has", cure=cure)


def check_values(chamber: Chamber, devices: Mapping[str, Device], found: Findings) -> None:
    """Note a sensor or a scale that waits for a value which its device never gives."""
    channels = [(f"sensors.{s.name}", s.device, s.reads or "") for s in chamber.sensors]
    channels += [(f"scales.{s.name}", s.device, s.reads or "") for s in chamber.scales]
    for key, name, reads in channels:
        gives = GIVES.get(devices[name].kind) if name in devices else None
        if gives is not None and reads not in gives:
            limit = f"a device that gives '{reads}'; '{name}' is of kind {devices[name].kind} and gives {' and '.join(gives)}"
            found.add(
                f"{key}.device", name, limit=limit, cure="Name the device that measures it, or take this table out."
            )


def check_one_rack(chamber: Chamber, found: Findings) -> None:
    """Note a second scale that says of itself that it weighs everything at once."""
    racks = [s for s in chamber.scales if s.carries == "rack"]
    for extra in racks[1:]:
        limit = f"one scale that weighs the whole rack; scales.{racks[0].name} is it already"
        cure = 'Write carries = "piece" where one piece hangs on it, or add the cells up in one amplifier.'
        found.add(f"scales.{extra.name}.carries", extra.carries, limit=limit, cure=cure)


def check_pretended_air(
    chamber: Chamber, devices: Mapping[str, Device], service: ServiceSettings, found: Findings
) -> None:
    """Note real heat or cold held by a simulation or a recording: nothing would notice what it does."""
    air = next((s for s in chamber.sensors if s.role == "control-air"), None)
    kind = devices[air.device].kind if air and air.device in devices else ""
    if kind not in SIMULATED or service.pin_factory == "mock":
        return
    for output in chamber.outputs:
        if output.name in ("heater", "cooler") and output.gpio is not None:
            found.add(
                f"outputs.{output.name}.gpio",
                output.gpio,
                limit=f"no real line while the control air comes from a device of kind '{kind}'",
                cure='Take the gpio out, wire a real sensor, or set pin_factory = "mock" in [service].',
            )
