"""Joins what the settings name to what the hardware room offers: channels, output lines, simulated pieces."""

from __future__ import annotations

import os
import time
from collections.abc import Sequence
from typing import Any

from dryward.core.chamber import Chamber
from dryward.core.program import Piece
from dryward.record.moments import ScaleCalibration
from dryward.settings import Settings
from dryward_hardware.open import Together, open_devices
from dryward_hardware.ports import Batch, DeviceSpec, Hung, LineSpec, Outputs, Sample, Source
from dryward_hardware.reader.client import reader_of

SIMULATED_KINDS = frozenset({"twin", "recorded"})
MOCK_LEVELS = "DRYWARD_MOCK_LEVELS"
"""In the environment: a file of ``GPIO LEVEL`` lines that digital inputs show with pin_factory = "mock", never else."""


def channels(chamber: Chamber) -> dict[str, str]:
    """Return, for each device channel (``DEVICE/VALUE``), the sensor or scale that reads it."""
    named = [(f"{s.device}/{s.reads}", s.name) for s in chamber.sensors]
    named += [(f"{s.device}/{s.reads}", s.name) for s in chamber.scales]
    return dict(named)


def lines(chamber: Chamber) -> tuple[LineSpec, ...]:
    """Return the output lines as the keeper needs them."""
    return tuple(
        LineSpec(
            name=o.name,
            gpio=o.gpio,
            active_high=o.active_high,
            safe_on=o.safe_on,
            min_on_s=o.min_on_s,
            min_off_s=o.min_off_s,
        )
        for o in chamber.outputs
    )


def scale_calibrations(settings: Settings) -> tuple[ScaleCalibration, ...]:
    """Return by what the counts of each scale are weighed; scales whose device does not count are left out."""
    options = {d.name: d.options for d in settings.devices if d.options.get("g_per_count")}
    return tuple(
        ScaleCalibration(
            scale=s.name,
            calibration=str(options[s.device].get("calibration", "")),
            zero_count=float(str(options[s.device].get("zero_count", 0.0))),
            g_per_count=float(str(options[s.device]["g_per_count"])),
        )
        for s in settings.chamber.scales
        if s.device in options and s.reads == "weight"
    )


def simulated(settings: Settings) -> bool:
    """Say whether every device of this chamber is simulated or recorded, so that time may run fast."""
    return all(d.kind in SIMULATED_KINDS for d in settings.devices)


class Devices:
    """All sources of a chamber as one, and the simulated ones among them as places for pieces and outputs."""

    def __init__(self, settings: Settings) -> None:
        specs = [DeviceSpec(name=d.name, kind=d.kind, options=d.options) for d in settings.devices]
        opened = open_devices(
            specs, pin_factory=settings.service.pin_factory, mock_levels=os.environ.get(MOCK_LEVELS, "")
        )
        self._reader = reader_of(opened)
        self._respawns: dict[str, int] = {}
        self._twins: list[Any] = [s for s in opened.values() if hasattr(s, "hang")]
        self._scales = {s.name: f"{s.device}/{s.reads}" for s in settings.chamber.scales}
        timed: dict[str, Source] = {
            d.name: opened[d.name] if d.kind in SIMULATED_KINDS else OnMachineTime(opened[d.name])
            for d in settings.devices
        }
        self.source: Source = next(iter(timed.values())) if len(timed) == 1 else Together(timed)

    def reader_status(self) -> dict[str, object] | None:
        """Return the reader's counters (reads, failures by reason, respawns), or None where nothing is read by it."""
        return None if self._reader is None else self._reader.status()

    def begun_again(self) -> tuple[str, ...]:
        """Return the devices whose reading hung or died and was begun again since this was last asked."""
        if self._reader is None:
            return ()
        now = {name: counts.respawns for name, counts in self._reader.intake.counts.items()}
        again = tuple(name for name, count in now.items() if count > self._respawns.get(name, 0))
        self._respawns = now
        return again

    def simulated_outputs(self) -> Outputs | None:
        """Return the outputs of the simulated chamber, or None when there is none."""
        return self._twins[0] if self._twins else None

    def hang(self, pieces: Sequence[Piece]) -> None:
        """Hang a batch into the simulated chamber, where there is one, in place of the last."""
        hung = [
            Hung(
                name=p.name,
                green_g=p.green_g,
                thickness_mm=p.thickness_mm,
                channel=None if p.scale is None else self._scales.get(p.scale),
            )
            for p in pieces
        ]
        for twin in self._twins:
            twin.clear()
            twin.hang(hung)

    def take_off(self, piece: str) -> None:
        """Take a piece out of the simulated chamber."""
        for twin in self._twins:
            twin.take_off(piece)


class OnMachineTime:
    """A real source in a loop that counts chamber time: moves its sample times from the monotonic to the chamber clock."""

    def __init__(self, source: Source) -> None:
        self._source = source

    def poll(self, now_s: float) -> Batch:
        machine_s = time.monotonic()
        batch = self._source.poll(machine_s)
        shift_s = now_s - machine_s
        samples = tuple(Sample(s.channel, s.value, min(now_s, s.sampled_s + shift_s), s.fault) for s in batch.samples)
        return Batch(samples, batch.weights, batch.notes, batch.finished)

    def close(self) -> None:
        self._source.close()
