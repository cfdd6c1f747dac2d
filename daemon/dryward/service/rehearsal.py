"""What a rehearsal found: each step's times and air, each piece's finish, energy, wear, warnings."""

from __future__ import annotations

from dataclasses import dataclass, field

from dryward.core.commands import Commands
from dryward.core.food import heat_facts
from dryward.core.inputs import Inputs
from dryward.core.layout import Layout
from dryward.core.program import Program
from dryward.core.progress import top_air_c
from dryward.core.state import State, energy_j, operations
from dryward.science.heat_statement import before_drying, heat_statements
from dryward.service.fast import Ended


@dataclass(slots=True)
class StepFound:
    """One step as it went; times in s since the start of the run, air in degC."""

    name: str
    start_s: float
    end_s: float | None = None
    in_band_s: float | None = None  # when the air first was in the band
    low_c: float | None = None  # extremes after that
    high_c: float | None = None
    dwell_s: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceFound:
    """One piece at the end of the rehearsal."""

    name: str
    green_g: float
    target_g: float
    final_g: float | None
    loss_pct: float | None
    finish_s: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Rehearsed:
    """A whole rehearsal."""

    program: str
    end: str
    why: str
    hours: float
    energy_kwh: float
    steps: tuple[StepFound, ...]
    pieces: tuple[PieceFound, ...]
    relay_operations: dict[str, int]
    meat: tuple[str, ...]
    warnings: tuple[str, ...]
    ticks: int
    wall_s: float


@dataclass(slots=True)
class Notebook:
    """Watches a fast run tick by tick; use ``watch`` as its watcher and ``close`` at its end."""

    program: Program
    air: int | None
    steps: list[StepFound] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)
    _index: int = -1

    def watch(self, tick: int, inputs: Inputs, commands: Commands, state: State) -> None:
        """Note what this tick brought."""
        run = state.run
        at_s = state.now - run.started_s
        if run.step_index != self._index:
            if self.steps:
                self.steps[-1].end_s = at_s
            self._index = run.step_index
            named = self.program.steps
            name = named[run.step_index].name if run.step_index < len(named) else "keep-warm"
            self.steps.append(StepFound(name, at_s))
        step = self.steps[-1]
        step.dwell_s = run.dwell_s
        air_c = state.sensors[self.air].good if self.air is not None else None
        if air_c is not None:
            if step.in_band_s is None and run.in_band:
                step.in_band_s = at_s
            if step.in_band_s is not None:
                step.low_c = air_c if step.low_c is None else min(step.low_c, air_c)
                step.high_c = air_c if step.high_c is None else max(step.high_c, air_c)
        for event in commands.events:
            if event.severity in ("warning", "alarm", "trip"):
                self.warnings.append(f"after {at_s / 3600.0:.1f} h: {event.text}")

    def close(self, ended: Ended) -> Rehearsed:
        """Return what was found."""
        return close(self, ended.layout, ended.state, ended)


def close(book: Notebook, layout: Layout, state: State, ended: Ended) -> Rehearsed:
    """Put the notes and the last state together."""
    run = state.run
    end_s = (run.ended_s if run.ended_s is not None else state.now) - run.started_s
    if book.steps and book.steps[-1].end_s is None:
        book.steps[-1].end_s = end_s
    pieces = tuple(
        PieceFound(
            name=p.piece.name,
            green_g=p.piece.green_g,
            target_g=round(p.piece.target_g, 1),
            final_g=None if p.final_g is None and p.weight_g is None else round(p.final_g or p.weight_g or 0.0, 1),
            loss_pct=None if p.loss_pct is None else round(p.loss_pct, 2),
            finish_s=None if p.done_s is None else round((p.crossed_s or p.done_s) - run.started_s, 1),
        )
        for p in state.pieces
    )
    return Rehearsed(
        program="" if run.program is None else run.program.name,
        end=run.phase,
        why=run.why,
        hours=round(end_s / 3600.0, 2),
        energy_kwh=round(energy_j(layout, state) / 3.6e6, 2),
        steps=tuple(book.steps),
        pieces=pieces,
        relay_operations=operations(state),
        meat=_meat(layout, state),
        warnings=tuple(book.warnings),
        ticks=ended.ticks,
        wall_s=round(ended.wall_s, 2),
    )


def _meat(layout: Layout, state: State) -> tuple[str, ...]:
    """What the simulated core and air say of the meat: all of it an estimate."""
    program = state.run.program
    if program is None:
        return ()
    said = [str(s) for s in heat_statements(heat_facts(layout, state.food, state.run, predicted=True))]
    top_c = top_air_c(program)
    if top_c is not None and top_c >= 50.0:
        said.append(before_drying(poultry=program.poultry))
    return tuple(said)
