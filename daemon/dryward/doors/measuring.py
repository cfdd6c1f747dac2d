"""Reads one value of one device for a calibration: directly where that disturbs nobody, else through the daemon's status."""

from __future__ import annotations

import contextlib
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from statistics import fmean, stdev
from typing import TYPE_CHECKING

from dryward.doors.wire import Unreachable, ask

if TYPE_CHECKING:
    from dryward.settings import Settings

BESIDE_THE_DAEMON = frozenset({"w1", "hwmon", "iio", "hx711"})
"""Kinds whose kernel files two processes may read at once."""
COUNTING = frozenset({"hx711", "nau7802"})
PACE_S = 0.2
PATIENCE_S = 60.0


class NoReading(Exception):
    """Nothing could be measured. The text says why and what to do."""


@dataclass(frozen=True, slots=True)
class Measured:
    """Mean of some readings, and their standard deviation."""

    mean: float
    spread: float
    readings: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Subject:
    """What is calibrated: a sensor or a scale, the device's value behind it, the offset that the daemon adds."""

    name: str
    device: str
    kind: str
    reads: str
    offset: float = 0.0
    is_sensor: bool = True


def measure(settings: Settings, subject: Subject, *, readings: int) -> Measured:
    """Take so many readings and average them. Raises NoReading."""
    status = None
    if subject.kind not in BESIDE_THE_DAEMON:
        with contextlib.suppress(Unreachable):
            status = ask(Path(settings.service.socket), {"verb": "status"})
    if status is not None and not subject.is_sensor:
        raise NoReading(
            f"{subject.name} is read by the running daemon and cannot be read beside it. Stop that ('systemctl stop dryward') and come back."
        )
    values: list[float] = []
    why = "no answer"
    deadline_s = time.monotonic() + PATIENCE_S
    stream = _directly(settings, subject) if status is None else _by_status(settings, subject)
    for value, fault in stream:
        values += [] if value is None else [value]
        why = fault or why
        if len(values) == readings:
            return Measured(fmean(values), stdev(values) if readings > 1 else 0.0, readings)
        if time.monotonic() > deadline_s:
            break
    raise NoReading(
        f"{subject.name} gave {len(values)} readings of {readings} in {PATIENCE_S:g} s ({why}). Look at its plug and cable, and at [devices.{subject.device}] in the chamber file."
    )


def _directly(settings: Settings, subject: Subject) -> Iterator[tuple[float | None, str]]:
    from dryward_hardware.open import open_devices
    from dryward_hardware.ports import DeviceError, DeviceSpec

    device = next(d for d in settings.devices if d.name == subject.device)
    try:
        opened = open_devices(
            [DeviceSpec(name=device.name, kind=device.kind, options=device.options)],
            pin_factory=settings.service.pin_factory,
        )
    except DeviceError as error:
        raise NoReading(f"{subject.device} could not be opened: {error}") from None
    source = opened[device.name]
    try:
        while True:
            for sample in source.poll(time.monotonic()).samples:
                if sample.channel == f"{device.name}/{subject.reads}":
                    yield sample.value, sample.fault
            yield None, ""
            time.sleep(PACE_S)
    finally:
        source.close()


def _by_status(settings: Settings, subject: Subject) -> Iterator[tuple[float | None, str]]:
    """Give each new reading that the daemon tells of, with its offset taken off again."""
    newest_s = -1.0
    while True:
        try:
            status = ask(Path(settings.service.socket), {"verb": "status"})["status"]
        except Unreachable as error:
            raise NoReading(str(error)) from None
        told = next((s for s in status["sensors"] if s["name"] == subject.name), None)
        if told is None:
            raise NoReading(
                f"{subject.name} is not known to the running daemon: start it again, the chamber file has changed since."
            )
        sampled_s = status["chamber_s"] - (told["age_s"] or 0.0)
        fresh = told["value"] is not None and told["quality"] == "fresh" and sampled_s > newest_s + 0.15
        if fresh:
            newest_s = sampled_s
        yield (told["value"] - subject.offset, "") if fresh else (None, told["why"])
        time.sleep(PACE_S)
