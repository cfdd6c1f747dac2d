"""What the run knows of the meat's heat: the core probe's clocks and credit, advanced tick by tick.

The careful probe counts where there are several: the coldest while the program heats, the hottest while the meat cools.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from dryward.core.commands import Event
from dryward.core.layout import Layout
from dryward.core.progress import Run
from dryward.core.trust import SensorState
from dryward.core.weighing import CERTAIN, PieceState
from dryward.science import clocks as clock
from dryward.science import lethality
from dryward.science.heat_statement import HeatFacts
from dryward.science.humidity import is_moist
from dryward.science.statement import PieceFacts, finish_message, finish_statement

EVERY_S = 30.0
"""A core changes by a few tenths of a kelvin in this time; a tick a second would only cost."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Food:
    """``most_rh_pct`` None: no humidity was measured while it heated. Times in s on the chamber clock."""

    heat: lethality.Heat = field(default_factory=lethality.Heat)
    clocks: clock.Clocks = field(default_factory=clock.Clocks)
    most_rh_pct: float | None = None
    looked_s: float = -1.0e9


def follow(layout: Layout, food: Food, sensors: tuple[SensorState, ...], *, heating: bool, now: float) -> Food:
    """Take in the core's and the air's newest good readings, at most every half minute."""
    if now - food.looked_s < EVERY_S:
        return food
    rh_pct = None if layout.humidity is None else sensors[layout.humidity].good
    most = food.most_rh_pct
    if heating and rh_pct is not None:
        most = rh_pct if most is None else max(most, rh_pct)
    core_c = careful_core_c(layout, sensors, heating=heating)
    return Food(
        heat=lethality.advance(food.heat, core_c=core_c, moist=is_moist(rh_pct), now=now),
        clocks=clock.advance(food.clocks, core_c=core_c, heating=heating, now=now),
        most_rh_pct=most,
        looked_s=now,
    )


def careful_core_c(layout: Layout, sensors: tuple[SensorState, ...], *, heating: bool) -> float | None:
    """Return the core temperature that counts, degC: the coldest probe while heating, the hottest while cooling."""
    known = [v for i in layout.cores if (v := sensors[i].good) is not None]
    if not known:
        return None
    return min(known) if heating else max(known)


def heat_facts(layout: Layout, food: Food, run: Run, *, predicted: bool = False) -> HeatFacts:
    """Return what can be told of the heat so far."""
    return HeatFacts(
        core_probe=bool(layout.cores),
        most_rh_pct=food.most_rh_pct,
        poultry=run.program is not None and run.program.poultry,
        predicted=predicted,
        heat=food.heat,
        clocks=food.clocks,
    )


def piece_facts(state: PieceState, weight_g: float) -> PieceFacts:
    """Return a piece as the statements need it."""
    piece = state.piece
    return PieceFacts(
        name=piece.name,
        green_g=piece.green_g,
        weight_g=weight_g,
        target_loss_pct=piece.target_loss_pct,
        salt_pct=piece.salt_pct,
        cut=piece.cut,
        doubt_g=CERTAIN * state.sigma_g if piece.scale is None else 0.0,
    )


def piece_done(state: PieceState, weight_g: float, facts: HeatFacts) -> Event:
    """Tell that a piece has reached its target, and what that does and does not mean."""
    said = finish_message(piece_facts(state, weight_g), facts)
    return Event(
        kind="piece-done",
        subject=state.piece.name,
        severity="notice",
        text=said.text,
        meaning=said.meaning,
        advice=said.advice,
        value=weight_g,
    )


def finish_events(pieces: tuple[PieceState, ...], facts: HeatFacts) -> tuple[Event, ...]:
    """Say of every weighed piece, at the end of a run, what is measured, estimated and not credited."""
    return tuple(
        Event(
            kind="finish-statement",
            subject=p.piece.name,
            text="\n".join(str(s) for s in finish_statement(piece_facts(p, weight_g), facts)),
            value=weight_g,
        )
        for p in pieces
        if (weight_g := p.final_g if p.final_g is not None else p.weight_g) is not None
    )
