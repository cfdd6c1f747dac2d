"""A stand with scales and weights on them: feeds samples to the weighing part, without any chamber."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import replace

from dryward.core.chamber import Scale
from dryward.core.commands import Event
from dryward.core.inputs import Reading
from dryward.core.layout import lay_out
from dryward.core.program import Piece
from dryward.core.rack_state import Rack
from dryward.core.scales import take_readings
from dryward.core.weighing import PieceState, settle, weigh_in
from tests.core.bench_chamber import chamber


class Stand:
    """``on[NAME]`` says on which scales a piece lies; all pieces lose ``rate`` of their weight an hour where they lie."""

    def __init__(
        self,
        pieces: Sequence[Piece],
        scales: Sequence[Scale],
        *,
        rate: float = 0.002,
        noise_g: float = 0.3,
        on: dict[str, tuple[str, ...]] | None = None,
    ) -> None:
        self.layout = lay_out(chamber(scales=scales))
        self.states = tuple(PieceState(p) for p in pieces)
        self.racks: tuple[Rack, ...] = ()
        self.events: list[Event] = []
        self.true_g = {p.name: p.green_g for p in pieces}
        rack = next((s.name for s in scales if s.carries == "rack"), None)
        self.on = on or {p.name: (p.scale or rack or "",) for p in pieces}
        self.extra_g: dict[str, float] = {s.name: 0.0 for s in scales}
        self.rate, self.noise_g = rate, noise_g
        self.chance = random.Random(5)
        self.now = 0.0
        self.door = False

    def run(self, seconds: float, every_s: float = 30.0) -> None:
        end = self.now + seconds
        while self.now < end:
            self.now += every_s
            for name in self.true_g:
                self.true_g[name] *= 1.0 - self.rate * every_s / 3600.0
            self.turn()

    def turn(self) -> None:
        """Sample every scale once."""
        readings = []
        for scale in self.layout.chamber.scales:
            load_g = sum(w for name, w in self.true_g.items() if scale.name in self.on[name])
            shown_g = scale.tare_g + load_g + self.extra_g[scale.name] + self.chance.gauss(0.0, self.noise_g)
            readings.append(Reading(scale.name, shown_g, self.now))
        after = take_readings(
            self.layout, self.states, self.racks, tuple(readings), door_open=self.door, cell_c=None, now=self.now
        )
        self.states, self.racks = tuple(settle(p, self.now) for p in after.pieces), after.racks
        self.events.extend(after.events)

    def off(self, *names: str) -> None:
        for name in names:
            self.on[name] = ()

    def back(self, name: str, scale: str = "rack") -> None:
        self.on[name] = (scale,)

    def weigh(self, name: str, weight_g: float | None = None) -> None:
        shown_g = round(self.true_g[name]) if weight_g is None else weight_g
        self.states = tuple(weigh_in(s, shown_g, self.now) if s.piece.name == name else s for s in self.states)

    def pull(self, name: str) -> None:
        self.states = tuple(
            replace(s, status="pulled", final_g=s.weight_g) if s.piece.name == name else s for s in self.states
        )

    def state(self, name: str) -> PieceState:
        return next(s for s in self.states if s.piece.name == name)

    def wrong_g(self, name: str) -> float:
        """Error of the weight that is known, g."""
        weight_g = self.state(name).weight_g
        assert weight_g is not None
        return weight_g - self.true_g[name]

    def said(self, since: int = 0) -> list[tuple[str, str]]:
        return [(e.kind, e.subject) for e in self.events[since:]]
