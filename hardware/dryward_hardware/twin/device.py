"""The twin as devices: outputs switch it, polls advance it and read its sensors and scales.

It has no clock. The first call with a time is its second zero; from then on it goes on to whatever time it is told.
The heater obeys alone: leases and interlocks are the keeper's matter.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from dryward_hardware.ports import Batch, DeviceError, Hung
from dryward_hardware.twin.box import BoxModel
from dryward_hardware.twin.faults import ON_A_CHANNEL, Script
from dryward_hardware.twin.model import STEP_TICKS, TICK_S, ChamberModel, Drive
from dryward_hardware.twin.options import TwinOptions, twin_options
from dryward_hardware.twin.piece import PieceBody
from dryward_hardware.twin.plants import PLANTS, PlantModel
from dryward_hardware.twin.senses import Senses
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
        self._model: ChamberModel = PlantModel(self.options) if self.options.model in PLANTS else BoxModel(self.options)
        self._script = Script(self.options.faults)
        self._zero_s: float | None = None
        self._tick = 0
        self._on: frozenset[str] = frozenset()
        self._door_open = False
        self._places: dict[str, Place] = {}
        self._turns = [math.ceil(t / TICK_S) for t in self._script.turns]
        self._senses = Senses(device, self.options, self._model)
        if self.options.sensing.rack:
            self._senses.add_cell("rack", self._weight_g)
        self._hooks: set[str] = set()
        for hook in self.options.hooks:
            self._add_hook(hook)
        self._check_faults()
        self._apply()

    def _check_faults(self) -> None:
        """A fault of a sensor must name one that is there."""
        known = self._senses.channels
        unknown = []
        for number, fault in enumerate(self.options.faults):
            names = (fault.channel, fault.other) if fault.kind == "sensor-swapped" else (fault.channel,)
            if fault.kind in ON_A_CHANNEL:
                unknown += [f"faults[{number}]: no channel {name!r}" for name in names if name not in known]
        if unknown:
            raise DeviceError(self.device, f"{'; '.join(unknown)}; known here: {', '.join(known)}")

    def _add_hook(self, hook: str) -> None:
        if hook in self._senses.channels:
            raise DeviceError(self.device, f"no hook can be called {hook}, a sensor has that name; choose another")
        self._hooks.add(hook)
        self._senses.add_cell(hook, lambda: self._weight_g(hook))

    def _weight_g(self, hook: str | None = None) -> float:
        """Return what hangs on a hook, or on the whole rack."""
        return sum(self._model.mass_g(p.body) for p in self._places.values() if p.hanging and hook in (None, p.hook))

    # pieces and door

    def hang(self, pieces: Sequence[Hung]) -> None:
        """Hang new pieces; a hook named for the first time becomes a load cell. Raises DeviceError for a name that hangs already."""
        names = [p.name for p in pieces]
        twice = sorted({name for name in names if name in self._places or names.count(name) > 1})
        if twice:
            raise DeviceError(
                self.device, f"{', '.join(twice)} hangs already or comes twice; give every piece a name of its own"
            )
        for hung in pieces:
            place = Place(PieceBody(hung, self.options.meat), self._own_hook(hung.channel))
            self._places[hung.name] = place
            self._model.put_in(place.body, new=True)
        self._probe()

    def _own_hook(self, channel: str | None) -> str | None:
        if channel is None:
            return None
        hook = channel.removeprefix(f"{self.device}/")
        if hook not in self._hooks:
            self._add_hook(hook)
        return hook

    def take_off(self, name: str) -> None:
        """Lay a piece beside the chamber, where it cools and dries a little. Raises DeviceError for a piece that does not hang."""
        place = self._place(name)
        if not place.hanging:
            raise DeviceError(self.device, f"{name} is off its hook already; put it back first")
        place.hanging = False
        self._model.take_out(place.body)
        self._probe()

    def clear(self) -> None:
        """Take everything out for good: the next batch may use the names again."""
        for place in self._places.values():
            if place.hanging:
                place.hanging = False
                self._model.take_out(place.body)
        self._places.clear()
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
        """Hands were at the rack; the core probe sits in the piece named, or in the heaviest that hangs; else in the air."""
        hanging = [p.body for p in self._places.values() if p.hanging]
        if wanted := self.options.sensing.core_piece:
            hanging = [p for p in hanging if p.name == wanted]
        self._senses.probed = max(hanging, key=lambda p: p.green_g, default=None)
        self._senses.knock()

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
        script, on = self._script, self._on
        faults = script.now
        box = self.options.cabinet if self.options.model == "cabinet" else self.options.dryer

        def works(name: str) -> float:
            """1 when on, 0 when off, whatever is wanted if a fault says so."""
            return float((name in on or f"{name}-welded" in faults) and f"{name}-dead" not in faults) * script.share(
                f"{name}-weak"
            )

        powered = "contactor" in on or not box.contactor
        turning = (box.fan == "always" or "fan" in on) and "fan-stopped" not in faults
        self._drive = Drive(
            heat=works("heater") * script.share("mains") ** 2 if powered else 0.0,
            fan=script.share("fan-slow") if turning else 0.0,
            vent="vent-stuck-open" in faults or ("vent" in on and "vent-stuck-shut" not in faults),
            door=self._door_open or "door-open" in faults,
            cooler=works("cooler"),
            humidifier=works("humidifier"),
            dehumidifier=works("dehumidifier"),
        )
        self._model.drive(self._drive)
        self._senses.driven(self._drive)

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
            ticks = stop - self._tick
            self._model.advance(ticks)
            self._senses.follow(ticks)
            self._tick = stop
            if self._turns and self._turns[0] <= self._tick:
                self._turn()

    def _turn(self) -> None:
        """Faults begin or end."""
        while self._turns and self._turns[0] <= self._tick:
            self._turns.pop(0)
        self._script.at(self._tick * TICK_S)
        self._apply()

    def poll(self, now_s: float) -> Batch:
        """Advance to ``now_s`` and return the newest value of each channel that is due."""
        self._advance(now_s)
        return Batch(self._senses.read((self._zero_s or 0.0) + self._tick * TICK_S, self._script))

    # what is really so

    def truth(self) -> Truth:
        """Return what is really so, now."""
        model = self._model
        return Truth(
            elapsed_s=self._tick * TICK_S,
            air_c=model.true_c,
            rh_pct=model.rh_pct,
            room_c=model.room.air_c,
            room_rh_pct=model.room.rh_pct,
            door_open=self._drive.door,
            heating=self._drive.heat > 0.0,
            pieces=tuple(self._piece_truth(place) for place in self._places.values()),
            condition=model.condition(),
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
