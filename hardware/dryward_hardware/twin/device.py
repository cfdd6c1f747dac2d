"""The twin as devices: outputs switch it, polls advance it and read its sensors and scales.

It has no clock. The first call with a time is its second zero; from then on it goes on to whatever time it is told.
The heater obeys alone: leases and interlocks are the keeper's matter.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from zlib import crc32

from dryward_hardware.ports import Batch, DeviceError, Hung, Sample
from dryward_hardware.twin.dryer import DryerModel
from dryward_hardware.twin.faults import Fault, Script
from dryward_hardware.twin.model import STEP_TICKS, TICK_S, ChamberModel, Drive
from dryward_hardware.twin.options import TwinOptions, twin_options
from dryward_hardware.twin.piece import PieceBody
from dryward_hardware.twin.plants import PlantModel
from dryward_hardware.twin.probes import Chance, Channel, Delay, Lag
from dryward_hardware.twin.truth import PieceTruth, Truth


@dataclass(slots=True)
class Place:
    """A piece and where it is."""

    body: PieceBody
    hook: str | None
    hanging: bool = True


class Twin:
    """A simulated chamber: a Source and its Outputs in one."""

    def __init__(self, device: str, options: Mapping[str, object] | TwinOptions) -> None:
        """Raises DeviceError that names every wrong option."""
        self.device = device
        self.options = options if isinstance(options, TwinOptions) else twin_options(device, options)
        self._model: ChamberModel = DryerModel(self.options) if self.options.model == "dryer" else PlantModel(self.options)
        self._script = Script(self.options.faults)
        self._chance = Chance(self.options.seed)
        self._zero_s: float | None = None
        self._tick = 0
        self._on: frozenset[str] = frozenset()
        self._door_open = False
        self._places: dict[str, Place] = {}
        self._probed: PieceBody | None = None
        self._turns = [math.ceil(t / TICK_S) for t in self._script.turns]
        self._sense()
        self._apply()

    # sensors

    def _sense(self) -> None:
        s, model, dryer = self.options.sensing, self._model, self.options.model == "dryer"
        air_c = model.air_c
        self._delay = Delay(self.options.dryer.air_dead_s if dryer else 0.0, air_c)
        self._air = Lag(s.air_lag_s if dryer else 0.0, air_c)
        self._limit = Lag(s.air_lag_s if dryer else 0.0, air_c)
        self._humidity = Lag(s.humidity_lag_s if dryer else 0.0, model.rh_pct)
        self._core = Lag(s.core_lag_s, air_c)
        kelvin, percent = (s.temperature_noise_k, s.temperature_step_k), (s.humidity_noise_pct, s.humidity_step_pct)
        self._channels: dict[str, Channel] = {}
        self._channel("air", lambda: self._air.shown, s.temperature_s, *kelvin, s.failed_share)
        self._channel("limit", lambda: self._limit.shown, s.temperature_s, *kelvin, s.failed_share)
        self._channel("humidity", lambda: self._humidity.shown, s.humidity_s, *percent, s.failed_share, low=0.0, high=100.0)
        self._channel("core", lambda: self._core.shown, s.temperature_s, *kelvin, s.failed_share)
        self._channel("ambient", lambda: model.room_c, s.room_s, *kelvin)
        self._channel("ambient-humidity", lambda: model.room_rh_pct, s.room_s, *percent, low=0.0, high=100.0)
        self._channel("door", lambda: float(self._drive.door), s.contact_s)
        self._channel("fan", lambda: float(self._drive.fan > 0.3), s.contact_s)
        for hook in self.options.hooks:
            self._hook(hook)
        if s.rack:
            self._channel("rack", self._rack_g, s.weight_s, s.weight_noise_g, s.weight_step_g)

    def _channel(
        self, name: str, value: Callable[[], float], every_s: float, noise: float = 0.0, step: float = 0.0, failed: float = 0.0, *, low: float = -1e9, high: float = 1e9
    ) -> None:
        self._channels[name] = Channel(
            name=name,
            full_name=f"{self.device}/{name}",
            value=value,
            every=max(1, round(every_s / TICK_S)),
            noise=noise,
            per_step=1.0 / step if step else 0.0,
            failed_share=failed,
            low=low,
            high=high,
            salt=crc32(name.encode()),
        )

    def _hook(self, hook: str) -> None:
        s = self.options.sensing
        self._channel(hook, lambda: self._hook_g(hook), s.weight_s, s.weight_noise_g, s.weight_step_g)

    def _hook_g(self, hook: str) -> float:
        return sum(self._model.mass_g(p.body) for p in self._places.values() if p.hanging and p.hook == hook)

    def _rack_g(self) -> float:
        return sum(self._model.mass_g(p.body) for p in self._places.values() if p.hanging)

    # pieces and door

    def hang(self, pieces: Sequence[Hung]) -> None:
        """Hang new pieces; a hook named for the first time becomes a load cell. Raises DeviceError for a name that hangs already."""
        twice = [p.name for p in pieces if p.name in self._places]
        if twice:
            raise DeviceError(self.device, f"{', '.join(twice)} hangs already; take it off or give the new piece another name")
        for hung in pieces:
            place = Place(PieceBody(hung, self.options.meat), self._own_hook(hung.channel))
            self._places[hung.name] = place
            self._model.put_in(place.body, new=True)
        self._probe()

    def _own_hook(self, channel: str | None) -> str | None:
        if channel is None:
            return None
        hook = channel.removeprefix(f"{self.device}/")
        if hook not in self._channels:
            self._hook(hook)
        return hook

    def take_off(self, name: str) -> None:
        """Lay a piece beside the chamber, where it cools and dries a little. Raises DeviceError for a piece that does not hang."""
        place = self._place(name)
        if not place.hanging:
            raise DeviceError(self.device, f"{name} is off its hook already; put it back first")
        place.hanging = False
        self._model.take_out(place.body)
        self._probe()

    def put_back(self, name: str, channel: str | None = None) -> None:
        """Hang a piece again, on its old hook or another."""
        place = self._place(name)
        if place.hanging:
            raise DeviceError(self.device, f"{name} hangs already; take it off first")
        place.hook = place.hook if channel is None else self._own_hook(channel)
        place.hanging = True
        self._model.put_in(place.body, new=False)
        self._probe()

    def _probe(self) -> None:
        """The core probe sits in the piece named, or in the heaviest that hangs; else in the air."""
        hanging = [p.body for p in self._places.values() if p.hanging]
        if wanted := self.options.sensing.core_piece:
            hanging = [p for p in hanging if p.name == wanted]
        self._probed = max(hanging, key=lambda p: p.green_g, default=None)

    def _place(self, name: str) -> Place:
        if name not in self._places:
            raise DeviceError(self.device, f"no piece {name}; hung here: {', '.join(self._places) or 'nothing'}")
        return self._places[name]

    def open_door(self) -> None:
        self._door_open = True
        self._apply()

    def close_door(self) -> None:
        self._door_open = False
        self._apply()

    # outputs

    def want(self, on: frozenset[str], now_s: float) -> None:
        """Switch outputs from now on."""
        self._advance(now_s)
        if on != self._on:
            self._on = on
            self._apply()

    def actual(self) -> frozenset[str]:
        """Return the outputs that are on."""
        return self._on

    def close(self) -> None:
        """Nothing is held open."""

    def _apply(self) -> None:
        """Work out what the outputs do under the faults in force."""
        dryer, script, on = self.options.dryer, self._script, self._on
        faults = script.now
        heat = float("heater" in on or "heater-welded" in faults)
        if "heater-dead" in faults or (dryer.contactor and "contactor" not in on):
            heat = 0.0
        turning = dryer.fan == "always" or "fan" in on
        fan = 0.0 if "fan-stopped" in faults or not turning else script.share("fan-slow")
        vent = "vent-stuck-open" in faults or ("vent" in on and "vent-stuck-shut" not in faults)
        self._drive = Drive(
            heat=heat * script.share("heater-weak") * script.share("mains") ** 2,
            fan=fan,
            vent=vent,
            door=self._door_open or "door-open" in faults,
        )
        self._model.drive(self._drive)

    # time

    def _advance(self, now_s: float) -> None:
        if self._zero_s is None:
            self._zero_s = now_s
            self._turn()
        end = math.floor((now_s - self._zero_s) / TICK_S + 1e-6)
        while self._tick < end:
            stop = min(end, self._tick + STEP_TICKS)
            if self._turns and self._turns[0] < stop:
                stop = max(self._turns[0], self._tick + 1)
            self._step(stop - self._tick)
            if self._turns and self._turns[0] <= self._tick:
                self._turn()

    def _turn(self) -> None:
        """Faults begin or end."""
        while self._turns and self._turns[0] <= self._tick:
            self._turns.pop(0)
        self._script.at(self._tick * TICK_S)
        self._apply()

    def _step(self, ticks: int) -> None:
        model = self._model
        model.advance(ticks)
        self._tick += ticks
        air_c = self._delay.through(model.air_c, self._tick)
        self._air.follow(air_c, ticks)
        self._limit.follow(air_c + model.limit_c - model.air_c, ticks)
        self._humidity.follow(model.rh_pct, ticks)
        probed = self._probed
        self._core.follow(model.air_c if probed is None else probed.core_c, ticks)

    def poll(self, now_s: float) -> Batch:
        """Advance to ``now_s`` and return the newest value of each channel that is due."""
        self._advance(now_s)
        tick, chance, faulty = self._tick, self._chance, self._script.on_channel
        at_s = (self._zero_s or 0.0) + tick * TICK_S
        samples: list[Sample] = []
        for channel in self._channels.values():
            if tick < channel.due:
                continue
            channel.due = tick + channel.every
            if channel.failed_share and chance.uniform(tick, channel.salt) < channel.failed_share:
                samples.append(Sample(channel.full_name, None, at_s, "no answer"))
            elif channel.name in faulty:
                samples.extend(self._faulty(channel, faulty[channel.name], at_s))
            else:
                samples.append(Sample(channel.full_name, channel.shown(channel.value(), tick, chance), at_s))
        return Batch(tuple(samples))

    def _faulty(self, channel: Channel, fault: Fault, at_s: float) -> tuple[Sample, ...]:
        """Return what a faulty sensor sends, if anything."""
        model, value = self._model, channel.value()
        match fault.kind:
            case "sensor-silent":
                return ()
            case "sensor-failed":
                return (Sample(channel.full_name, None, at_s, "no answer"),)
            case "sensor-nan":
                return (Sample(channel.full_name, math.nan, at_s),)
            case "sensor-value":
                return (Sample(channel.full_name, fault.value, at_s),)
            case "sensor-frozen" if channel.last is not None:
                return (Sample(channel.full_name, channel.last, at_s),)
            case "sensor-offset":
                value += fault.value
            case "sensor-reversed":
                value = 2.0 * model.room_c - value
            case "sensor-swapped":
                value = self._channels[fault.other].value()
            case "sensor-fallen-out":
                value = {"core": model.air_c, "humidity": model.room_rh_pct}.get(channel.name, model.room_c)
        return (Sample(channel.full_name, channel.shown(value, self._tick, self._chance), at_s),)

    # what is really so

    def truth(self) -> Truth:
        """Return what is really so, now."""
        model = self._model
        return Truth(
            elapsed_s=self._tick * TICK_S,
            air_c=model.true_c,
            wall_c=model.wall_c(),
            rh_pct=model.rh_pct,
            room_c=model.room_c,
            room_rh_pct=model.room_rh_pct,
            door_open=self._drive.door,
            heating=self._drive.heat > 0.0,
            pieces=tuple(self._piece_truth(place) for place in self._places.values()),
            ledger=model.ledger(),
        )

    def _piece_truth(self, place: Place) -> PieceTruth:
        body = place.body
        return PieceTruth(
            name=body.name,
            hanging=place.hanging,
            channel=f"{self.device}/{place.hook}" if place.hook else None,
            green_g=body.green_g,
            mass_g=self._model.mass_g(body),
            moisture=body.water.water_kg / body.water.dry_kg,
            surface_moisture=body.water.moisture[-1],
            surface_activity=body.activity(),
            surface_c=body.surface_c,
            core_c=body.core_c,
            mean_c=body.mean_c,
        )
