"""chamber.toml -> Settings: every table read by itself, so that one mistake does not hide the next."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, TypeVar

from dryward.core.chamber import CONTACT_ROLES, HUMIDITY_ROLES, Chamber, Control, Limits, Output, Scale, Sensor
from dryward.settings.crosscheck import cross_check
from dryward.settings.devices import KINDS, Device, device, rating, reset_value
from dryward.settings.mistakes import NOTHING, Findings, meant
from dryward.settings.shape import Table, build, named, read_toml, tables
from dryward.settings.tables import RecordSettings, ServiceSettings

T = TypeVar("T")
TABLES = ("chamber", "devices", "sensors", "outputs", "scales", "limits", "control", "record", "service")


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """Everything chamber.toml says. ``path`` is the file it was read from."""

    chamber: Chamber
    devices: tuple[Device, ...]
    record: RecordSettings
    service: ServiceSettings
    path: Path


def read_settings(path: Path) -> Settings:
    """Read a chamber file; raise SettingsError with all its mistakes at once."""
    found = Findings(path.name)
    raw = read_toml(path)
    for key in raw.keys() - set(TABLES):
        found.add(key, raw[key], limit="no such table", cure=meant(key, TABLES))
    devices = _devices(raw, folder=path.absolute().parent, found=found)
    sensors = _each(Sensor, raw, "sensors", found)
    outputs = _each(Output, raw, "outputs", found)
    scales = _each(Scale, raw, "scales", found)
    limits = build(Limits, raw.get("limits", {}), place="limits", found=found)
    control = build(Control, raw.get("control", {}), place="control", found=found)
    record = build(RecordSettings, raw.get("record", {}), place="record", found=found)
    service = build(ServiceSettings, raw.get("service", {}), place="service", found=found)
    chamber = _own_options(raw, found)
    sensors = [_completed(s, raw["sensors"][s.name], devices) for s in sensors]
    chamber = replace(
        chamber or Chamber(name="unnamed", sensors=()),
        sensors=tuple(sensors),
        outputs=tuple(outputs),
        scales=tuple(scales),
        limits=limits or Limits(),
        control=control or Control(),
    )
    cross_check(chamber, devices, service or ServiceSettings(), raw, found)
    found.stop_if_any(raw)
    assert record is not None
    assert service is not None
    record = replace(record, path=str(path.absolute().parent / record.path))
    return Settings(chamber=chamber, devices=tuple(devices), record=record, service=service, path=path)


def _each(cls: type[T], raw: Table, key: str, found: Findings) -> list[T]:
    made = [named(cls, table, name=name, place=f"{key}.{name}", found=found) for name, table in tables(raw, key, found=found).items()]
    return [m for m in made if m is not None]


def _own_options(raw: Table, found: Findings) -> Chamber | None:
    """Read the [chamber] table into a Chamber without its parts."""
    if "chamber" not in raw:
        found.add("chamber", NOTHING, limit="needed: a table", cure='Add a line [chamber] and below it: name = "..."')
        return None
    table = raw["chamber"]
    if isinstance(table, Mapping):
        for key in table.keys() & set(TABLES):
            found.add(f"chamber.{key}", table[key], limit="no such option", cure=f"Write it as a table of its own, [{key}], not inside [chamber].")
        table = {"sensors": []} | {k: v for k, v in table.items() if k not in TABLES}
    return build(Chamber, table, place="chamber", found=found)


def _devices(raw: Table, *, folder: Path, found: Findings) -> list[Device]:
    devices = []
    for name, table in tables(raw, "devices", found=found).items():
        made = _device(name, table, folder=folder, found=found)
        if made is not None:
            devices.append(made)
    return devices


def _device(name: str, table: Any, *, folder: Path, found: Findings) -> Device | None:
    place = f"devices.{name}"
    if not isinstance(table, Mapping):
        found.add(place, table, limit="a table", cure=f"Begin a table with a line [{place}] and put its options below it.")
        return None
    kind = table.get("kind", NOTHING)
    if kind not in KINDS:
        cure = f'Add a line kind = "...". {meant("", KINDS)}' if kind is NOTHING else meant(str(kind), KINDS)
        found.add(f"{place}.kind", kind, limit="one of: " + ", ".join(KINDS), cure=cure)
        return None
    made = build(KINDS[kind], {k: v for k, v in table.items() if k != "kind"}, place=place, found=found)
    return device(name=name, kind=kind, made=made, folder=folder) if made is not None else None


def _completed(sensor: Sensor, table: Table, devices: list[Device]) -> Sensor:
    """Fill in what follows from the role and the device's kind where the owner left it out."""
    reads = sensor.reads or _reads(sensor.role)
    known = {d.name: d for d in devices}
    if sensor.device not in known:
        return replace(sensor, reads=reads)
    low, high = rating(known[sensor.device], reads)
    return replace(
        sensor,
        reads=reads,
        rated_low=sensor.rated_low if "rated_low" in table else low,
        rated_high=sensor.rated_high if "rated_high" in table else high,
        reset_value=sensor.reset_value if "reset_value" in table else reset_value(known[sensor.device], reads),
    )


def _reads(role: str) -> str:
    if role in HUMIDITY_ROLES:
        return "humidity"
    return "state" if role in CONTACT_ROLES else "temperature"
