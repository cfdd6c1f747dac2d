"""chamber.toml -> Settings: every table read by itself, so that one mistake does not hide the next."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from dryward.core.chamber import Chamber, Sensor
from dryward.core.units import is_name
from dryward.settings.crosscheck import cross_check
from dryward.settings.devices import KINDS, read_as
from dryward.settings.layout import NAMED, OWN, PARTS, TABLES
from dryward.settings.messages import check_messages, files_beside
from dryward.settings.mistakes import NOTHING, Findings, meant
from dryward.settings.options import NAME_LIMIT, options
from dryward.settings.places import beside
from dryward.settings.shape import Table, build, named, tables
from dryward.settings.slips import slip
from dryward.settings.sources import Device, completed, device, weight_of, with_hooks, with_rest
from dryward.settings.tables import AlertSettings, MqttSettings, RecordSettings, ServiceSettings
from dryward.settings.text import read_toml


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """Everything chamber.toml says. ``path`` is the file it was read from."""

    chamber: Chamber
    devices: tuple[Device, ...]
    record: RecordSettings
    service: ServiceSettings
    mqtt: MqttSettings
    alerts: AlertSettings
    path: Path


def read_settings(path: Path) -> Settings:
    """Read a chamber file; raise SettingsError with all its mistakes at once."""
    found = Findings(str(path))
    raw = read_toml(path)
    for key in raw.keys() - set(TABLES):
        found.add(key, raw[key], limit="no such table", cure=meant(key, TABLES))
    made = (
        _device(name, table, config=path, found=found) for name, table in tables(raw, "devices", found=found).items()
    )
    devices = {d.name: d for d in made if d is not None}
    parts: dict[str, Any] = {key: _each(cls, raw, key, found) for key, cls in NAMED.items()}
    parts |= {key: build(cls, raw.get(key, {}), place=key, found=found) or cls() for key, cls in PARTS.items()}
    own: dict[str, Any] = {
        key: build(cls, raw.get(key, {}), place=key, found=found) or cls() for key, cls in OWN.items()
    }
    parts["sensors"] = tuple(completed(s, raw["sensors"][s.name], devices.get(s.device)) for s in parts["sensors"])
    parts["outputs"] = tuple(with_rest(o, raw["outputs"][o.name]) for o in parts["outputs"])
    parts["scales"] = tuple(replace(s, reads=s.reads or weight_of(devices.get(s.device), s)) for s in parts["scales"])
    chamber = replace(_own_options(raw, found), **parts)
    cross_check(chamber, devices, own["service"], raw, found)
    check_messages(chamber.name, own["mqtt"], own["alerts"], path, found)
    found.stop_if_any(raw)
    kept = own["record"]
    away = str(beside(path, kept.copy_to)) if kept.copy_to else ""
    own["record"] = replace(kept, path=str(beside(path, kept.path)), copy_to=away)
    own["service"] = replace(own["service"], socket=str(beside(path, own["service"].socket)))
    own["mqtt"] = files_beside(path, own["mqtt"])
    own["alerts"] = files_beside(path, own["alerts"])
    return Settings(
        chamber=chamber, devices=tuple(with_hooks(d, chamber.scales) for d in devices.values()), path=path, **own
    )


def _each(cls: type, raw: Table, key: str, found: Findings) -> tuple[Any, ...]:
    made = (
        named(cls, table, name=name, place=f"{key}.{name}", found=found)
        for name, table in tables(raw, key, found=found).items()
    )
    return tuple(m for m in made if m is not None)


def _own_options(raw: Table, found: Findings) -> Chamber:
    """Read the [chamber] table into a Chamber still without its parts."""
    table = raw.get("chamber", NOTHING)
    if table is NOTHING:
        found.add("chamber", NOTHING, limit="needed: a table", cure='Add a line [chamber] and below it: name = "..."')
        table = {"name": "unnamed"}
    if isinstance(table, Mapping):
        for key in table.keys() & set(TABLES):
            found.add(
                f"chamber.{key}",
                table[key],
                limit="no such option",
                cure=f"Write it as a table of its own, [{key}], not inside [chamber].",
            )
        table = {"sensors": []} | {k: v for k, v in table.items() if k not in TABLES}
    return build(Chamber, table, place="chamber", found=found) or Chamber(name="unnamed", sensors=())


def _device(name: str, table: Any, *, config: Path, found: Findings) -> Device | None:
    place = f"devices.{name}"
    if not is_name(name) or not 0 < len(name) <= 32:
        found.add(place, name, limit=NAME_LIMIT, cure=slip(options(Sensor)["device"], name))
    if not isinstance(table, Mapping):
        found.add(
            place, table, limit="a table", cure=f"Begin a table with a line [{place}] and put its options below it."
        )
        return None
    kind = table.get("kind", NOTHING)
    if not isinstance(kind, str) or kind not in KINDS:
        cure = f'Add a line kind = "...". {meant("", KINDS)}' if kind is NOTHING else read_as(str(kind))
        found.add(f"{place}.kind", kind, limit="one of: " + ", ".join(KINDS), cure=cure)
        return None
    made = build(KINDS[kind], {k: v for k, v in table.items() if k != "kind"}, place=place, found=found)
    return device(name=name, kind=kind, made=made, config=config) if made is not None else None
