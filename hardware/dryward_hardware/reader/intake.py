"""What the main process makes of the reader's messages: samples, counts, notes. No old reading passes for a new one here."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from dryward_hardware.ports import Sample
from dryward_hardware.reader.messages import unpack

FUTURE_S = 0.5  # no reading is of a later moment than this from now
FAILURES = 10  # so many in a row are told in a note


@dataclass(slots=True)
class Counts:
    """What became of one device's reads. ``failures`` counts them by their reason."""

    reads: int = 0
    failures: Counter[str] = field(default_factory=Counter)
    respawns: int = 0
    last_good_s: float | None = None
    failed_in_a_row: int = 0

    def as_data(self) -> dict[str, object]:
        """Return the counts as plain data for a status."""
        return {
            "reads": self.reads,
            "failures": dict(self.failures),
            "respawns": self.respawns,
            "last_good_s": self.last_good_s,
            "failed_in_a_row": self.failed_in_a_row,
        }


class Intake:
    """Everything that has been heard of these devices and not yet been taken."""

    def __init__(self, devices: Iterable[str]) -> None:
        self.counts = {device: Counts() for device in devices}
        self.lost = 0  # messages that this process was too late to take
        self._newest_s: dict[str, float] = {}
        self._waiting: dict[str, list[Sample]] = {device: [] for device in self.counts}
        self._notes: list[str] = []
        self._ended: dict[str, str] = {}  # why a device's reading last ended, until it reads again

    @property
    def devices(self) -> tuple[str, ...]:
        return tuple(self.counts)

    def hear(self, message: bytes, now_s: float) -> None:
        """Take a message; ``now_s`` is on the monotonic clock, as its reading is. What is no message is counted as lost."""
        try:
            words = unpack(message)
        except ValueError:
            self.lost += 1
            return
        match words:
            case ["read", str(device), int(began_ns), list(values)] if device in self.counts:
                self._hear_read(device, began_ns / 1e9, [v for v in values if _well_formed(v)], now_s)
            case ["ended", list(devices), str(why)]:
                named = [device for device in devices if device in self.counts]
                for device in named:
                    self.counts[device].respawns += 1
                if any(self._ended.get(device) != why for device in named):  # told once, not at every new attempt
                    self.note(f"{', '.join(named)}: the reading ended ({why}). It is begun anew until it goes on.")
                self._ended.update(dict.fromkeys(named, why))
            case ["alive", int(lost)]:
                self.lost = lost
            case _:
                self.lost += 1

    def take(self, device: str) -> tuple[Sample, ...]:
        """Return and forget the samples of one device."""
        samples, self._waiting[device] = self._waiting[device], []
        return tuple(samples)

    def take_notes(self) -> tuple[str, ...]:
        """Return and forget what there is to tell."""
        notes, self._notes = self._notes, []
        return tuple(notes)

    def note(self, text: str) -> None:
        """Add something to tell."""
        self._notes.append(text)

    def status(self) -> dict[str, object]:
        """Return all counters as plain data."""
        return {"lost": self.lost, "devices": {name: counts.as_data() for name, counts in self.counts.items()}}

    def _hear_read(self, device: str, began_s: float, values: list[Any], now_s: float) -> None:
        if began_s > now_s + FUTURE_S or began_s <= self._newest_s.get(device, -math.inf) or not values:
            return
        self._newest_s[device] = began_s
        counts = self.counts[device]
        counts.reads += 1
        faults = {fault for _, _, fault in values if fault}
        counts.failures.update(faults)
        if any(value is not None for _, value, _ in values):
            counts.failed_in_a_row, counts.last_good_s = 0, began_s
            self._ended.pop(device, None)
        else:
            counts.failed_in_a_row += 1
            if counts.failed_in_a_row == FAILURES:
                self.note(
                    f"{device}: {FAILURES} reads in a row failed ({', '.join(sorted(faults))})."
                    " A sensor that hangs wakes when its supply is cut for some seconds: the output sensor-power does that."
                )
        self._waiting[device] += [Sample(f"{device}/{what}", value, began_s, fault) for what, value, fault in values]


def _well_formed(value: object) -> bool:
    match value:
        case [str(), None, str(fault)]:
            return bool(fault)
        case [str(), int() | float() as figure, ""]:
            return math.isfinite(figure)
        case _:
            return False
