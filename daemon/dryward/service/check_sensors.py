"""Are the sensors there, fresh and believable: as a running daemon tells it, or read here by the daemon's own rules."""

from __future__ import annotations

import time
from collections.abc import Iterable, Iterator
from typing import Any

from dryward.core.chamber import CONTACT_ROLES, HUMIDITY_ROLES, Sensor
from dryward.core.inputs import Reading
from dryward.core.layout import lay_out
from dryward.core.state import first_state
from dryward.core.trust import SensorState, trust
from dryward.service.check import Finding
from dryward.service.wiring import Devices, channels
from dryward.settings import Settings
from dryward_hardware.ports import DevicesError

LOOK_S = 20.0  # a one-wire humidity sensor fails a third of its reads and gives one every 2 s
PACE_S = 0.5
HEAT_DEPENDS_ON = frozenset({"control-air", "limit-air", "fan-feedback", "contactor-feedback"})
CONTACT_WORDS = {
    "door": ("shut", "open"),
    "fan-feedback": ("standing still", "turning"),
    "contactor-feedback": ("open", "closed"),
    "ack-button": ("not pressed", "pressed"),
}


def told_by_daemon(settings: Settings, needed: Iterable[str], status: dict[str, Any]) -> Iterator[Finding]:
    """Judge the sensors, trips and record by what the running daemon says of them."""
    yield Finding(name="daemon", verdict="pass", text="one is running: its own view of the sensors is shown")
    told = {s["name"]: s for s in status["sensors"]}
    for sensor in settings.chamber.sensors:
        seen = told.get(sensor.name)
        if seen is None:
            yield Finding(
                name="sensor",
                verdict="fail",
                text=f"{sensor.name} is not known to the running daemon",
                cure="Start it again: the chamber file has changed since.",
            )
        else:
            yield _judged(
                sensor, needed, quality=seen["quality"], value=seen["value"], age_s=seen["age_s"], why=seen["why"]
            )
    for alarm in status["alarms"]:
        if alarm["trip"]:
            yield Finding(
                name="trip", verdict="fail", text=f"{alarm['key']}: {alarm['happened']}", cure=alarm["advice"]
            )
    record = status["record"]
    if record is not None and not record["ok"]:
        yield Finding(name="record", verdict="fail", text=record["why"], cure="Free space on the disk or replace it.")


def measured_here(settings: Settings, needed: Iterable[str]) -> Iterator[Finding]:
    """Open the devices, read them for some seconds, judge each by the gate that the engine uses."""
    try:
        devices = Devices(settings)
    except DevicesError as error:
        for one in error.errors:
            yield Finding(
                name="device",
                verdict="fail",
                text=str(one),
                cure="Look at plug, cable and the device's options in the chamber file.",
            )
        return
    try:
        states, weighed = _read(settings, devices)
    finally:
        devices.source.close()
    now_s = time.monotonic()
    for sensor, state in zip(settings.chamber.sensors, states, strict=True):
        age_s = None if state.value is None else now_s - state.sampled_s
        yield _judged(sensor, needed, quality=state.quality, value=state.value, age_s=age_s, why=state.why)
    for scale in settings.chamber.scales:
        if scale.name in weighed:
            yield Finding(name="scale", verdict="pass", text=f"{scale.name} answers: {weighed[scale.name]:.1f} g")
        else:
            cure = "Look at cell and amplifier; until then weigh by hand with 'dryward weigh'."
            yield Finding(name="scale", verdict="warn", text=f"{scale.name} gave no weight in {LOOK_S:g} s", cure=cure)


def _read(settings: Settings, devices: Devices) -> tuple[tuple[SensorState, ...], dict[str, float]]:
    """Poll until everything has answered, or for ``LOOK_S``. Times are those of the monotonic clock."""
    layout = lay_out(settings.chamber)
    names = channels(settings.chamber)
    states = first_state(layout).sensors
    weighed: dict[str, float] = {}
    end_s = time.monotonic() + LOOK_S
    while True:
        now_s = time.monotonic()
        batch = devices.source.poll(now_s)
        readings = tuple(
            Reading(names[s.channel], s.value, s.sampled_s, s.fault) for s in batch.samples if s.channel in names
        )
        states = trust(layout, states, readings, now_s)
        weighed |= {r.channel: r.value for r in readings if r.channel in layout.scales and r.value is not None}
        if now_s >= end_s or (all(s.quality == "fresh" for s in states) and len(weighed) == len(layout.scales)):
            return states, weighed
        time.sleep(PACE_S)


def _judged(
    sensor: Sensor, needed: Iterable[str], *, quality: str, value: float | None, age_s: float | None, why: str
) -> Finding:
    unit = " %RH" if sensor.role in HUMIDITY_ROLES else " degC"
    contact = sensor.role in CONTACT_ROLES
    if value is None:
        shown = "nothing yet"
    else:
        shown = CONTACT_WORDS[sensor.role][value == 1.0] if contact else f"{value:g}{unit}"
    age = "" if age_s is None else f", {age_s:.0f} s old"
    if quality == "fresh":
        rated = "" if contact else f"; rated {sensor.rated_low:g} to {sensor.rated_high:g}{unit}"
        return Finding(name="sensor", verdict="pass", text=f"{sensor.name} ({sensor.role}): {shown}{age}{rated}")
    must = sensor.role in HEAT_DEPENDS_ON or sensor.role in needed
    text = f"{sensor.name} ({sensor.role}) is {quality}{f' ({why})' if why else ''}: {shown}{age}; limit {sensor.fresh_s:g} s"
    cure = "Look at its plug and cable, and at the device it is read from in the chamber file."
    return Finding(name="sensor", verdict="fail" if must else "warn", text=text, cure=cure)
