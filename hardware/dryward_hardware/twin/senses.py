"""The twin's sensors and cells: every channel it sends, when it is due, and how a faulty one lies."""

from __future__ import annotations

import math
from collections.abc import Callable
from zlib import crc32

from dryward_hardware.ports import Sample
from dryward_hardware.twin.cells import Frame, LoadCell
from dryward_hardware.twin.faults import Fault, Script
from dryward_hardware.twin.model import TICK_S, ChamberModel, Drive
from dryward_hardware.twin.options import TwinOptions
from dryward_hardware.twin.piece import PieceBody
from dryward_hardware.twin.plants import PlantModel
from dryward_hardware.twin.probes import Chance, Channel, Delay, Lag

NO_ANSWER = "no answer"
SLOWEST = 0.2  # air that no fan moves still gets about, at this share of its speed (no source)
SEEN_TURNING = 0.3  # share of full speed from which a feedback contact says that the fan turns (no source)


class Senses:
    """All channels of a twin. ``probed`` is the piece that carries the core probe."""

    def __init__(self, device: str, options: TwinOptions, model: ChamberModel) -> None:
        self._device = device
        self._sensing = s = options.sensing
        self._model = model
        self._chance = Chance(options.seed)
        self._tick = 0
        self._door = False
        self.probed: PieceBody | None = None
        self.channels: dict[str, Channel] = {}
        air_c, lagging = model.air_c, not isinstance(model, PlantModel)  # a plain body has its lag in it
        box = options.cabinet if options.model == "cabinet" else options.dryer
        self._dead_s = box.air_dead_s if lagging else 0.0
        self._delay = Delay(air_c)
        self._air = Lag(s.air_lag_s if lagging else 0.0, air_c)
        self._limit = Lag(s.air_lag_s if lagging else 0.0, air_c)
        self._humidity = Lag(s.humidity_lag_s if lagging else 0.0, model.rh_pct)
        self._core = Lag(s.core_lag_s, air_c)
        self.frame = Frame(room_c=model.room.air_c, air_c=air_c, air_share=s.weight_air_share)
        self.driven(Drive())
        self._add_all()

    def driven(self, drive: Drive) -> None:
        """Outputs have changed: contacts show it, the fan shakes the cells, slow air takes longer to the sensors."""
        if drive.door != self._door:
            self.knock()
        self._door, self._fan = drive.door, drive.fan
        self.frame.fan = drive.fan
        self._dead_ticks = round(self._dead_s / max(drive.fan, SLOWEST) / TICK_S)

    def _add_all(self) -> None:
        s, room = self._sensing, self._model.room
        for name, lag in (("air", self._air), ("limit", self._limit), ("core", self._core)):
            self._add(name, lag.now, s.temperature_s, s.temperature_noise_k, s.temperature_step_k, s.failed_share)
        self._add(
            "humidity", self._humidity.now, s.humidity_s, s.humidity_noise_pct, s.humidity_step_pct, s.failed_share
        )
        self._add("ambient", lambda: room.air_c, s.room_s, s.temperature_noise_k, s.temperature_step_k)
        self._add("ambient-humidity", lambda: room.rh_pct, s.room_s, s.humidity_noise_pct, s.humidity_step_pct)
        self._add("scale-temperature", self.frame.cell_c.now, s.room_s, s.temperature_noise_k, s.temperature_step_k)
        self._add("door", lambda: float(self._door), s.contact_s)
        self._add("fan", lambda: float(self._fan >= SEEN_TURNING), s.contact_s)
        for name in ("humidity", "ambient-humidity"):
            self.channels[name].low, self.channels[name].high = 0.0, 100.0

    def _add(
        self,
        name: str,
        value: Callable[[], float],
        every_s: float,
        noise: float = 0.0,
        step: float = 0.0,
        failed: float = 0.0,
    ) -> None:
        self.channels[name] = Channel(
            name=name,
            full_name=f"{self._device}/{name}",
            value=value,
            every=max(1, round(every_s / TICK_S)),
            noise=noise,
            per_step=1.0 / step if step else 0.0,
            failed_share=failed,
            salt=crc32(name.encode()),
        )

    def add_cell(self, name: str, load_g: Callable[[], float]) -> None:
        """Add a load cell as a channel."""
        s = self._sensing
        cell = LoadCell(load_g, sensing=s, frame=self.frame, chance=self._chance, salt=crc32(name.encode()))
        self._add(name, lambda: cell.shown_g(self._tick), s.weight_s, s.weight_noise_g, s.weight_step_g)

    def knock(self) -> None:
        """Somebody touches the rack or moves the door."""
        self.frame.knocked_tick = self._tick

    def follow(self, ticks: int) -> None:
        """Go on by so many ticks, behind the model."""
        model = self._model
        self._tick += ticks
        inside_c = model.air_c
        air_c = self._delay.through(inside_c, self._tick, self._dead_ticks)
        self._air.follow(air_c, ticks)
        self._limit.follow(air_c + model.limit_c - inside_c, ticks)
        self._humidity.follow(model.rh_pct, ticks)
        self._core.follow(inside_c if self.probed is None else self.probed.core_c, ticks)
        self.frame.follow(room_c=model.room.air_c, air_c=inside_c, ticks=ticks)

    def read(self, at_s: float, script: Script) -> tuple[Sample, ...]:
        """Return a sample of each channel that is due."""
        tick, chance, faulty = self._tick, self._chance, script.on_channel
        samples: list[Sample] = []
        for channel in self.channels.values():
            if tick < channel.due:
                continue
            channel.due = tick + channel.every
            if channel.failed_share and chance.uniform(tick, channel.salt) < channel.failed_share:
                samples.append(Sample(channel.full_name, None, at_s, NO_ANSWER))
            elif channel.name in faulty:
                samples.extend(self._faulty(channel, faulty[channel.name], at_s))
            else:
                samples.append(Sample(channel.full_name, channel.shown(channel.value(), tick, chance), at_s))
        return tuple(samples)

    def _faulty(self, channel: Channel, fault: Fault, at_s: float) -> tuple[Sample, ...]:
        """Return what a faulty sensor sends, if anything."""
        value, room = channel.value(), self._model.room
        match fault.kind:
            case "sensor-silent":
                return ()
            case "sensor-failed":
                return (Sample(channel.full_name, None, at_s, NO_ANSWER),)
            case "sensor-nan":
                return (Sample(channel.full_name, math.nan, at_s),)
            case "sensor-value":
                return (Sample(channel.full_name, fault.amount, at_s),)
            case "sensor-frozen" if channel.last is not None:
                return (Sample(channel.full_name, channel.last, at_s),)
            case "sensor-offset":
                value += fault.amount
            case "sensor-reversed":
                value = 2.0 * room.air_c - value
            case "sensor-swapped":
                value = self.channels[fault.other].value()
            case "sensor-fallen-out":
                value = {"core": self._model.air_c, "humidity": room.rh_pct}.get(channel.name, room.air_c)
        return (Sample(channel.full_name, channel.shown(value, self._tick, self._chance), at_s),)
