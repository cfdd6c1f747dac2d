"""The chamber with its look-ups made once: which sensor has which role, which outputs exist."""

from __future__ import annotations

from dataclasses import dataclass

from dryward.core.chamber import TEMPERATURE_ROLES, Chamber, Scale, Sensor


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Layout:
    """What ``step`` takes as its configuration. Made by ``lay_out`` and never changed; one is like no other."""

    chamber: Chamber
    sensor_index: dict[str, int]
    scales: dict[str, Scale]
    has: frozenset[str]
    output_index: dict[str, int]
    air: int | None
    airs: tuple[int, ...]  # every air temperature: control first, then limits
    cores: tuple[int, ...]
    humidity: int | None
    ambient: int | None
    ambient_humidity: int | None
    door: int | None
    scale_temperature: int | None
    fan_feedback: int | None
    contactor_feedback: int | None
    is_temperature: tuple[bool, ...]
    partner: tuple[int | None, ...]  # the humidity that comes from the same device as a temperature


def lay_out(chamber: Chamber) -> Layout:
    """Make the look-ups for ``chamber``."""
    sensors = chamber.sensors

    def all_of(role: str) -> tuple[int, ...]:
        return tuple(i for i, s in enumerate(sensors) if s.role == role)

    def first_of(role: str) -> int | None:
        found = all_of(role)
        return found[0] if found else None

    return Layout(
        chamber=chamber,
        sensor_index={s.name: i for i, s in enumerate(sensors)},
        scales={s.name: s for s in chamber.scales},
        has=frozenset(o.name for o in chamber.outputs),
        output_index={o.name: i for i, o in enumerate(chamber.outputs)},
        air=first_of("control-air"),
        airs=all_of("control-air") + all_of("limit-air"),
        cores=all_of("core"),
        humidity=first_of("humidity"),
        ambient=first_of("ambient"),
        ambient_humidity=first_of("ambient-humidity"),
        door=first_of("door"),
        scale_temperature=first_of("scale-temperature"),
        fan_feedback=first_of("fan-feedback"),
        contactor_feedback=first_of("contactor-feedback"),
        is_temperature=tuple(s.role in TEMPERATURE_ROLES for s in sensors),
        partner=tuple(_partner(sensors, s) for s in sensors),
    )


def _partner(sensors: tuple[Sensor, ...], sensor: Sensor) -> int | None:
    if sensor.role not in TEMPERATURE_ROLES:
        return None
    for i, other in enumerate(sensors):
        if other.device == sensor.device and other.role in ("humidity", "ambient-humidity"):
            return i
    return None
