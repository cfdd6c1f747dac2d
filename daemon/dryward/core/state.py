"""Everything the engine carries from tick to tick. Frozen, and JSON there and back without loss."""

from __future__ import annotations

from dataclasses import replace

from dryward.core.alarms import Alarm, Condition
from dryward.core.control import ControlState, cut
from dryward.core.curves import Curves
from dryward.core.food import Food
from dryward.core.frozen import frozen
from dryward.core.guard import GuardState, after_restart
from dryward.core.heat import rest
from dryward.core.layout import Layout
from dryward.core.progress import Run
from dryward.core.rack_state import Rack
from dryward.core.trust import SensorState
from dryward.core.tune_run import Tuned, broken_off, outlives
from dryward.core.tuning import RelayTest
from dryward.core.weighing import PieceState


@frozen
class Tally:
    """What one output has done in its life: time on and switching operations."""

    name: str
    on_s: float = 0.0
    operations: int = 0
    on_since: float | None = None

    def on_time_s(self, now: float) -> float:
        """Return the time on up to ``now``, s."""
        return self.on_s + (0.0 if self.on_since is None else now - self.on_since)


@frozen
class State:
    """``now`` is the chamber clock of the last tick, s."""

    now: float
    run: Run
    pieces: tuple[PieceState, ...]
    sensors: tuple[SensorState, ...]
    food: Food
    control: ControlState
    guard: GuardState
    alarms: tuple[Alarm, ...]
    on: frozenset[str]
    tallies: tuple[Tally, ...]
    before: tuple[Tally, ...] = ()  # the tallies when the run began
    worn: tuple[Condition, ...] = ()  # relays near the end of their life, judged at each switching (F18)
    no_heat: str = ""
    answered: tuple[str, ...] = ()  # ids of the last requests: none is carried out twice
    racks: tuple[Rack, ...] = ()  # shared scales
    curves: Curves = ()  # what is wrong with the pieces' drying curves
    test: RelayTest | None = None  # a relay test in hand, without its readings
    tuned: Tuned | None = None  # accepted figures of the chamber


def first_state(layout: Layout, now: float = 0.0) -> State:
    """Return the state of a chamber that has never run."""
    return State(
        now=now,
        run=Run(),
        pieces=(),
        sensors=tuple(SensorState() for _ in layout.chamber.sensors),
        food=Food(),
        control=ControlState(),
        guard=GuardState(),
        alarms=(),
        on=frozenset(),
        tallies=tuple(Tally(o.name) for o in layout.chamber.outputs),
    )


def energy_j(layout: Layout, state: State) -> float:
    """Return the energy of all outputs since the run began, J: rating plate power times time on."""
    was = {t.name: t.on_s for t in state.before}
    return sum(
        output.power_w * (tally.on_time_s(state.now) - was.get(tally.name, 0.0))
        for output, tally in zip(layout.chamber.outputs, state.tallies, strict=True)
    )


def operations(state: State) -> dict[str, int]:
    """Return the switching operations of each output since the run began."""
    was = {t.name: t.operations for t in state.before}
    return {t.name: t.operations - was.get(t.name, 0) for t in state.tallies}


def adopt(layout: Layout, state: State) -> State:
    """Take over a checkpoint after a restart: no reading is known, every output is off, wear is kept by name.

    The chamber may have been re-configured in between.
    """
    fresh = first_state(layout, state.now)
    worn = {t.name: t for t in state.tallies}
    control = cut(state.control, state.on, state.now)
    return replace(
        state,
        run=broken_off(state.run),
        tuned=outlives(layout, state.tuned),
        sensors=fresh.sensors,
        control=replace(control, heat=rest(control.heat, now=state.now)),
        guard=after_restart(state.guard),
        on=frozenset(),
        tallies=tuple(replace(worn.get(t.name, t), on_since=None) for t in fresh.tallies),
    )
