"""What follows from a device's kind where the owner leaves it out: values by role, ratings, load cells of a twin."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from types import MappingProxyType

from dryward.core.chamber import CONTACT_ROLES, HUMIDITY_ROLES, TEMPERATURE_ROLES, Output, Scale, Sensor
from dryward.settings.devices import Options, Recorded
from dryward.settings.places import beside

COMPRESSOR_REST_S = 300.0  # common practice, no source; the compressor's manual decides
_TWIN_READS: Mapping[str, str] = MappingProxyType({"control-air": "air", "limit-air": "limit", "fan-feedback": "fan"})
# Temperature ratings in degC. DHT22, DS18B20, SHT3x and SHT4x by their datasheets; the others from memory, and careful.
_RATED: Mapping[str, tuple[float, float]] = MappingProxyType(
    {
        "dht22": (-40.0, 80.0),
        "dht11": (0.0, 50.0),
        "w1": (-55.0, 125.0),
        "hwmon": (-40.0, 125.0),
        "iio": (-40.0, 125.0),
        "twin": (-40.0, 125.0),
        "recorded": (-40.0, 125.0),
    }
)
_RATED_BY_NAME: Mapping[str, tuple[float, float]] = MappingProxyType(
    {
        "dht11": (0.0, 50.0),
        "max31865": (-200.0, 250.0),
        "max31855": (-200.0, 400.0),
        "max31855k": (-200.0, 400.0),
        "max6675": (0.0, 400.0),
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Device:
    """One device as configured: its name, its kind and its checked options."""

    name: str
    kind: str
    options: Mapping[str, object]


def device(*, name: str, kind: str, made: Options, config: Path) -> Device:
    """Make a device of checked options; a file is looked for beside the chamber file, what was left out stays out."""
    kept = {key: value for key, value in asdict(made).items() if value not in (None, ())}
    if isinstance(made, Recorded):
        kept["file"] = str(beside(config, made.file))
    return Device(name=name, kind=kind, options=kept)  # a plain dict: it travels to the reader process


def with_hooks(device: Device, scales: Iterable[Scale]) -> Device:
    """Give a twin a load cell for every scale that reads it."""
    hooks = tuple(s.reads for s in scales if s.device == device.name and s.carries == "piece")
    return replace(device, options={**device.options, "hooks": hooks}) if device.kind == "twin" and hooks else device


def completed(sensor: Sensor, written: Mapping[str, object], source: Device | None) -> Sensor:
    """Fill in what follows from role and device where the owner, in ``written``, left it out."""
    sensor = replace(sensor, reads=sensor.reads or reads_by_role(source, sensor.role))
    if source is None:
        return sensor
    low, high = rating(source, sensor.role)
    return replace(
        sensor,
        rated_low=sensor.rated_low if "rated_low" in written else low,
        rated_high=sensor.rated_high if "rated_high" in written else high,
        reset_value=sensor.reset_value if "reset_value" in written else reset_value(source, sensor.role),
    )


def with_rest(output: Output, written: Mapping[str, object]) -> Output:
    """Give a cooler the rest of a compressor where the owner, in ``written``, says nothing of it."""
    if output.name != "cooler" or "min_off_s" in written:
        return output
    return replace(output, min_off_s=COMPRESSOR_REST_S)


def reads_by_role(device: Device | None, role: str) -> str:
    """Return which of the device's values serves a role when the owner does not say."""
    if device is not None and device.kind == "twin":
        return _TWIN_READS.get(role, role)
    if role in HUMIDITY_ROLES:
        return "humidity"
    return "state" if role in CONTACT_ROLES else "temperature"


def weight_of(device: Device | None, scale: Scale) -> str:
    """Return which of the device's values is a scale's weight when the owner does not say."""
    if device is not None and device.kind == "twin":
        return "rack" if scale.carries == "rack" else scale.name
    return "weight"


def rating(device: Device, role: str) -> tuple[float, float]:
    """Return what such a device is rated for in a role, low and high: degC, %RH, or 0 and 1."""
    if role in HUMIDITY_ROLES:
        return 0.0, 100.0
    if role in CONTACT_ROLES:
        return 0.0, 1.0
    by_name = _RATED_BY_NAME.get(str(device.options.get("name"))) if device.kind == "iio" else None
    return by_name or _RATED.get(device.kind, (-40.0, 125.0))


def reset_value(device: Device, role: str) -> float | None:
    """Return what such a device shows after a loss of power, if it is known to show something of its own."""
    return 85.0 if device.kind == "w1" and role in TEMPERATURE_ROLES else None
