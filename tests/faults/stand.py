"""A whole chamber for fault tests: simulated dryer or reference plant, the keeper's rules, the real engine, 1 s ticks.

The four chambers are the three reference plants of the fault contract and the simulated dryer with meat in it. All
fit every sensor and output that a fault can touch; ``Fit`` leaves some out.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from dryward.core.chamber import Chamber, Control, Limits, Output, Plant, Sensor
from dryward.core.commands import Commands, Event
from dryward.core.engine import step
from dryward.core.inputs import Ask, Inputs, Load, Notice, Reading, Request, Start
from dryward.core.layout import Layout, lay_out
from dryward.core.program import Piece, Program
from dryward.core.state import State, first_state
from dryward_hardware.keeper.in_process import InProcessKeeper
from dryward_hardware.ports import Hung, LineSpec
from dryward_hardware.twin.device import Twin
from dryward_hardware.twin.faults import Fault
from dryward_hardware.twin.options import Dryer, Meat, Room, Sensing, TwinOptions

Model = Literal["small-fan-box", "slow-box", "overpowered", "dryer"]
MODELS: tuple[Model, ...] = ("small-fan-box", "slow-box", "overpowered", "dryer")

TUNED: dict[Model, Plant] = {
    "small-fan-box": Plant(gain_k=128.0, time_constant_s=900.0, dead_time_s=20.0, lag_s=15.0),
    "slow-box": Plant(gain_k=128.0, time_constant_s=2400.0, dead_time_s=60.0, lag_s=40.0),
    "overpowered": Plant(gain_k=198.0, time_constant_s=400.0, dead_time_s=15.0, lag_s=15.0),
    "dryer": Plant(gain_k=107.3, time_constant_s=466.0, dead_time_s=14.3, lag_s=15.6),
}
"""The figures that ``dryward tune`` finds: those of the reference plants, and of the simulated dryer tuned when empty."""

PIECES = tuple(Piece(name=f"p{i}", green_g=700.0 + 40.0 * i, thickness_mm=50.0) for i in range(4))


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """What the chamber is fitted with and how its readings are."""

    door: bool = True
    limit: bool = True
    feedback: bool = True
    contactor: bool = True
    ambient: bool = True
    tuned: bool = False
    cycle_s: float = 40.0
    failed_share: float = 0.0
    noise_k: float = 0.1
    resolution_k: float = 0.1


FITTED, LIMITS, ROOM = Fit(), Limits(), Room()


def chamber(model: Model, fit: Fit, limits: Limits) -> Chamber:
    """The chamber as its owner would describe it."""
    sensors = [Sensor(name="air", role="control-air", device="twin", reads="air", reset_value=85.0)]
    if fit.limit:
        sensors.append(Sensor(name="limit", role="limit-air", device="twin", reads="limit"))
    sensors.append(
        Sensor(name="humidity", role="humidity", device="twin", reads="humidity", rated_low=0.0, rated_high=100.0)
    )
    if fit.ambient:
        sensors.append(Sensor(name="ambient", role="ambient", device="twin", reads="ambient", fresh_s=90.0))
    if fit.door:
        sensors.append(Sensor(name="door", role="door", device="twin", reads="door"))
    if fit.feedback:
        sensors.append(Sensor(name="fan-turns", role="fan-feedback", device="twin", reads="fan"))
    names = ["heater", "fan", "vent", *(["contactor"] if fit.contactor else []), "buzzer", "lamp"]
    outputs = tuple(Output(name=n, power_w=900.0 if n == "heater" else 0.0) for n in names)  # type: ignore[arg-type]
    control = Control(cycle_s=fit.cycle_s, plant=TUNED[model] if fit.tuned else None)
    return Chamber(name="stand", sensors=tuple(sensors), outputs=outputs, limits=limits, control=control)


class Stand:
    """One chamber in simulated time. ``tick`` is one second: poll, decide, switch."""

    def __init__(
        self,
        model: Model,
        *,
        fit: Fit = FITTED,
        limits: Limits = LIMITS,
        faults: tuple[Fault, ...] = (),
        room: Room = ROOM,
        start_c: float | None = None,
        meat_c: float = 6.0,
        seed: int = 1,
        pieces: tuple[Piece, ...] = PIECES,
    ) -> None:
        self.layout: Layout = lay_out(chamber(model, fit, limits))
        sensing = Sensing(
            failed_share=fit.failed_share,
            temperature_noise_k=fit.noise_k,
            temperature_step_k=fit.resolution_k,
            rack=False,
        )
        options = TwinOptions(
            model=model,
            seed=seed,
            start_c=start_c,
            faults=faults,
            sensing=sensing,
            room=room,
            meat=Meat(start_c=meat_c),
            dryer=Dryer(contactor=fit.contactor),
        )
        self.twin = Twin("twin", options)
        self.pieces = pieces
        if model == "dryer":
            self.twin.hang([Hung(name=p.name, green_g=p.green_g, thickness_mm=p.thickness_mm) for p in pieces])
        lines = [
            LineSpec(
                name=o.name, gpio=None, active_high=True, safe_on=False, min_on_s=o.min_on_s, min_off_s=o.min_off_s
            )
            for o in self.layout.chamber.outputs
        ]
        self.keeper = InProcessKeeper(self.twin, lines)
        self._channels = {f"twin/{s.reads}": s.name for s in self.layout.chamber.sensors}
        self.state: State = first_state(self.layout)
        self.last = Commands()
        self.events: list[Event] = []
        self.seconds = 0
        self._asked = 0
        self._asks: list[Ask] = []
        self._notices: list[Notice] = []

    @property
    def now(self) -> float:
        return float(self.seconds)

    def ask(self, *asks: Ask) -> None:
        """Hand in requests for the next tick."""
        self._asks.extend(asks)

    def tell(self, *notices: Notice) -> None:
        """Hand in notices for the next tick."""
        self._notices.extend(notices)

    def begin(self, program: Program) -> None:
        """Load and start with the next tick."""
        self.ask(Load(pieces=self.pieces), Start(program=program, run_id="r"))
        self.tick()
        assert all(r.accepted for r in self.last.replies), self.last.replies

    def tick(self) -> Commands:
        """One second."""
        self.seconds += 1
        now = float(self.seconds)
        names = self._channels
        readings = tuple(
            [
                Reading(names[s.channel], s.value, s.sampled_s, s.fault)
                for s in self.twin.poll(now).samples
                if s.channel in names
            ]
        )
        inputs = Inputs(readings=readings, requests=self._requests(), notices=tuple(self._notices))
        self._notices.clear()
        self.state, self.last = step(self.layout, self.state, inputs, now)
        self.keeper.want(self.last.on, now)
        if self.last.events:
            self.events.extend(self.last.events)
        return self.last

    def ticks(self, seconds: int) -> None:
        for _ in range(seconds):
            self.tick()

    def _requests(self) -> tuple[Request, ...]:
        if not self._asks:
            return ()
        asked = tuple(Request(request_id=f"q{self._asked + i}", ask=a, who="tester") for i, a in enumerate(self._asks))
        self._asked += len(asked)
        self._asks.clear()
        return asked

    def raised(self, key: str) -> bool:
        """Say whether the alarm ``key`` is in force."""
        return any(a.key == key and a.phase != "pending" for a in self.state.alarms)

    @property
    def heating(self) -> bool:
        """Whether the heater's line is on behind the keeper."""
        return "heater" in self.keeper.actual()


def with_limits(**changed: float | bool) -> Limits:
    """The default limits with some of them changed."""
    return replace(LIMITS, **changed)  # type: ignore[arg-type]
