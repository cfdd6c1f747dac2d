"""A simulated chamber and the weighing part of the engine, without the rest: for the tests and the bench of weighing."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from dryward.core.chamber import Scale, Sensor
from dryward.core.commands import Event
from dryward.core.inputs import Reading
from dryward.core.layout import lay_out
from dryward.core.program import Piece
from dryward.core.rack_state import Rack
from dryward.core.scales import take_readings
from dryward.core.weighing import PieceState, settle, weigh_in
from dryward_hardware.ports import Hung
from dryward_hardware.twin import Twin
from dryward_hardware.twin.options import Sensing, TwinOptions
from tests.core.bench_chamber import AIR, chamber

RACK = Scale(name="rack", device="twin", carries="rack", max_g=20_000.0)
CELL_C = Sensor(name="cell", role="scale-temperature", device="twin", reads="scale-temperature")
POLL_S = 30.0
HOUR_S = 3600.0


def air_plan(chance: random.Random) -> list[tuple[float, float]]:
    """Two or three steps from hot to less hot, as (h, degC)."""
    plan = [(0.0, 80.0), (chance.uniform(6.0, 30.0), chance.choice([65.0, 70.0, 75.0]))]
    return [*plan, (chance.uniform(35.0, 60.0), chance.choice([55.0, 60.0, 65.0]))]


def some_pieces(chance: random.Random, count: int, *, hooks: bool = False, heaviest_g: float = 1200.0) -> list[Piece]:
    """Pieces of a third to all of ``heaviest_g``, some with a thickness that was measured."""
    made = []
    for k in range(count):
        green_g = round(chance.uniform(heaviest_g / 3.0, heaviest_g))
        usual_mm = 70.0 * (green_g / 750.0) ** (1.0 / 3.0)
        thick = None if chance.random() < 0.4 else round(usual_mm * chance.uniform(0.85, 1.15))
        made.append(
            Piece(name=f"p{k}", green_g=float(green_g), thickness_mm=thick, scale=f"hook-{k}" if hooks else None)
        )
    return made


@dataclass
class Scene:
    """Twin, thermostat, weighing. ``meat_spread``: how differently the pieces dry, beside their form."""

    pieces: Sequence[Piece]
    seed: int = 1
    sensing: Sensing = field(default_factory=Sensing)
    plan: Sequence[tuple[float, float]] = ((0.0, 80.0), (24.0, 70.0))
    meat_spread: float = 0.0
    scales: Sequence[Scale] = (RACK,)
    model: str = "dryer"
    known_drift: bool = True
    poll_s: float = POLL_S
    now: float = 0.0
    door: bool = False
    heating: bool = False
    fan: bool = True

    def __post_init__(self) -> None:
        self.chance = random.Random(self.seed)
        options = TwinOptions(model=self.model, seed=self.seed, sensing=self.sensing)  # type: ignore[arg-type]
        self.twin = Twin("twin", options)
        for p in self.pieces:
            self.twin.options = replace(options, meat=self._meat(options))
            self.twin.hang(
                [
                    Hung(
                        name=p.name,
                        green_g=p.green_g,
                        thickness_mm=p.thickness_mm,
                        channel=p.scale and f"twin/{p.scale}",
                    )
                ]
            )
        if self.known_drift:
            self.scales = [self._calibrated(scale) for scale in self.scales]
        self.layout = lay_out(chamber(sensors=(AIR, CELL_C), scales=self.scales))
        self.states = tuple(PieceState(p) for p in self.pieces)
        self.racks: tuple[Rack, ...] = ()
        self.events: list[Event] = []
        self.cell_c: float | None = None
        self.changed = False

    def _calibrated(self, scale: Scale) -> Scale:
        """The scale with its drift as the option's words say it is found, to a hundredth of a gram per kelvin.

        A second twin with nothing on it stands cold, then hot for two hours.
        """
        sensing = replace(self.sensing, weight_noise_g=0.0, weight_fan_g=0.0, weight_knock_g=0.0)
        empty = Twin(
            "twin",
            TwinOptions(
                seed=self.seed, sensing=sensing, hooks=tuple(s.name for s in self.scales if s.carries == "piece")
            ),
        )
        found = [{s.channel: s.value or 0.0 for s in empty.poll(t).samples} for t in (0.0,)]
        empty.want(frozenset({"heater", "fan"}), 0.0)
        found.append({s.channel: s.value or 0.0 for s in empty.poll(7200.0).samples})
        change_g, change_k = (
            found[1][f"twin/{name}"] - found[0][f"twin/{name}"] for name in (scale.name, "scale-temperature")
        )
        return replace(scale, drift_g_per_k=round(change_g / change_k, 2), tare_c=found[0]["twin/scale-temperature"])

    def _meat(self, options: TwinOptions):  # type: ignore[no-untyped-def]
        if not self.meat_spread:
            return options.meat
        faster = self.chance.lognormvariate(0.0, self.meat_spread)
        return replace(
            options.meat,
            diffusivity_m2_s=options.meat.diffusivity_m2_s * faster,
            water_share=self.chance.uniform(0.71, 0.77),
        )

    def run(self, seconds: float) -> None:
        """Let time pass."""
        end = self.now + seconds
        while self.now < end:
            self.now = min(end, self.now + self.poll_s)
            self.turn()

    def turn(self) -> None:
        batch = self.twin.poll(self.now)
        names = {f"twin/{s.name}" for s in self.scales}
        readings = []
        for sample in batch.samples:
            if sample.channel in names and sample.value is not None:
                readings.append(Reading(sample.channel.removeprefix("twin/"), sample.value, sample.sampled_s))
            elif sample.channel == "twin/air" and sample.value is not None:
                wanted_c = [c for h, c in self.plan if h * HOUR_S <= self.now][-1]
                self.heating = sample.value < wanted_c + (0.5 if self.heating else -0.5)
            elif sample.channel == "twin/scale-temperature":
                self.cell_c = sample.value
        on = {"fan", "vent"} if self.fan else {"vent"}
        self.twin.want(frozenset(on | {"heater"} if self.heating and self.fan else on), self.now)
        if not readings:
            return
        before = self.states
        after = take_readings(
            self.layout, self.states, self.racks, tuple(readings), door_open=self.door, cell_c=self.cell_c, now=self.now
        )
        self.racks = after.racks
        self.changed = after.pieces is not before
        self.states = tuple(settle(p, self.now) for p in after.pieces) if self.changed else after.pieces
        self.events.extend(after.events)

    # hands

    def open(self) -> None:
        self.twin.open_door()
        self.door = True

    def shut(self) -> None:
        self.twin.close_door()
        self.door = False

    def lift(self, name: str, seconds: float, *, by_hand: bool = False) -> list[Event]:
        """Open, take a piece off for so long, hang it back, shut; return what was said meanwhile."""
        said = len(self.events)
        self.open()
        self.run(self.chance.uniform(5.0, 40.0))
        self.twin.take_off(name)
        self.run(seconds)
        if by_hand:
            self.weigh(name)
        self.twin.put_back(name)
        self.run(self.chance.uniform(20.0, 60.0))
        self.shut()
        self.run(120.0)
        return self.events[said:]

    def weigh(self, name: str) -> None:
        """Enter what a kitchen scale shows: whole grams, half a gram of doubt."""
        shown_g = round(self.true_g(name) + self.chance.gauss(0.0, 0.5))
        self.states = tuple(weigh_in(s, shown_g, self.now) if s.piece.name == name else s for s in self.states)

    def pull(self, name: str) -> None:
        """Take a piece out for good."""
        self.states = tuple(
            replace(s, status="pulled", final_g=s.weight_g) if s.piece.name == name else s for s in self.states
        )
        self.open()
        self.run(10.0)
        self.twin.take_off(name)
        self.run(45.0)
        self.shut()

    # what is so

    def true_g(self, name: str) -> float:
        return next(p.mass_g for p in self.twin.truth().pieces if p.name == name)

    def state(self, name: str) -> PieceState:
        return next(s for s in self.states if s.piece.name == name)
