"""A small chamber and short ways to drive the engine, for the tests of core."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from dryward.core.chamber import Chamber, Control, Limits, Output, Scale, Sensor
from dryward.core.commands import Commands, Event, Reply
from dryward.core.engine import step
from dryward.core.inputs import Ask, Inputs, Load, Notice, Reading, Request, Start, Weighing
from dryward.core.layout import Layout, lay_out
from dryward.core.program import Ends, Piece, Program, Step
from dryward.core.state import State, first_state

AIR = Sensor(name="air", role="control-air", device="top", reads="temperature")
LIMIT = Sensor(name="limit", role="limit-air", device="side", reads="temperature")
HUMIDITY = Sensor(name="rh", role="humidity", device="top", reads="humidity", rated_low=0.0, rated_high=100.0)
DOOR = Sensor(name="door", role="door", device="frame", reads="state", rated_low=0.0, rated_high=1.0)


def chamber(
    *,
    sensors: Iterable[Sensor] = (AIR,),
    outputs: Iterable[str] = ("heater", "fan", "contactor"),
    scales: Iterable[Scale] = (),
    limits: Limits | None = None,
    control: Control | None = None,
    period_s: float = 1.0,
) -> Chamber:
    """A hot dryer with one air sensor, unless told otherwise."""
    return Chamber(
        name="bench",
        sensors=tuple(sensors),
        outputs=tuple(Output(name=n, power_w=900.0 if n == "heater" else 0.0) for n in outputs),  # type: ignore[arg-type]
        scales=tuple(scales),
        limits=limits or Limits(),
        control=control or Control(),
        period_s=period_s,
    )


def program(*steps: Step, cap_h: float = 100.0) -> Program:
    """A program of these steps, or of one hot one."""
    return Program(name="try", cap_h=cap_h, steps=steps or (hot(),))


def hot(name: str = "hot", *, air_c: float = 80.0, ends: Ends | None = None) -> Step:
    """A step at ``air_c`` that ends when every piece has its own target."""
    return Step(name=name, air_c=air_c, ends=ends or Ends(own_target=True))


def piece(name: str = "a", green_g: float = 1000.0, **more: object) -> Piece:
    """A piece that has to lose 35 %."""
    return Piece(name=name, green_g=green_g, **more)  # type: ignore[arg-type]


@dataclass
class Bench:
    """The engine with what it was told and what it said."""

    layout: Layout
    state: State
    tick: int = 0
    said: list[Event] = field(default_factory=list)
    replies: list[Reply] = field(default_factory=list)
    last: Commands = field(default_factory=Commands)
    asked: int = 0

    @classmethod
    def of(cls, made: Chamber | None = None) -> Bench:
        layout = lay_out(made or chamber())
        return cls(layout, first_state(layout))

    @property
    def now(self) -> float:
        return self.tick * self.layout.chamber.period_s

    @property
    def heating(self) -> bool:
        return "heater" in self.last.on

    @property
    def kinds(self) -> list[str]:
        return [e.kind for e in self.said]

    def turn(
        self,
        air_c: float | None = None,
        *,
        readings: Iterable[tuple[str, float | None]] = (),
        asks: Iterable[Ask] = (),
        weighings: Iterable[tuple[str, float]] = (),
        notices: Iterable[Notice] = (),
        who: str = "tester",
    ) -> Commands:
        """One tick, with these readings taken now."""
        self.tick += 1
        named = ([("air", air_c)] if air_c is not None else []) + list(readings)
        requests = []
        for ask in asks:
            self.asked += 1
            requests.append(Request(request_id=f"q{self.asked}", ask=ask, who=who))
        inputs = Inputs(
            readings=tuple(Reading(n, v, self.now) for n, v in named),
            weighings=tuple(Weighing(p, g, self.now) for p, g in weighings),
            requests=tuple(requests),
            notices=tuple(notices),
        )
        self.state, self.last = step(self.layout, self.state, inputs, self.now)
        self.said.extend(self.last.events)
        self.replies.extend(self.last.replies)
        return self.last

    def ask(self, ask: Ask, air_c: float | None = None, *, who: str = "tester") -> Reply:
        """One tick with one request; return its answer."""
        return self.turn(air_c, asks=(ask,), who=who).replies[0]

    def begin(self, *pieces: Piece, with_program: Program | None = None, air_c: float = 22.0) -> None:
        """Load and start; fails the test when refused."""
        self.turn(
            air_c, asks=(Load(pieces=pieces or (piece(),)), Start(program=with_program or program(), run_id="r1"))
        )
        assert all(r.accepted for r in self.replies), self.replies

    def turns(self, count: int, air_c: float | None) -> None:
        for _ in range(count):
            self.turn(air_c)
