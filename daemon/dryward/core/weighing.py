"""Weights to losses: each piece against its own green weight.

Weigh-ins by hand are taken as they are. A load cell's samples go through a median of five and a level-and-slope
average (critically damped, ``Scale.settle_s``), which does not lag behind a steady loss. A sample far from the
expected weight is not believed until it has been repeated for some time: somebody touched the hook.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import exp
from typing import Literal

from dryward.core.chamber import Scale
from dryward.core.commands import Event
from dryward.core.inputs import Reading, Weighing
from dryward.core.layout import Layout
from dryward.core.program import Piece
from dryward.science.loss import MOST_GAIN, weight_mistake

Status = Literal["drying", "done", "pulled"]
TOUCHED = 0.04
"""A sample further from the expected weight than this share of the green weight is not believed at once."""
AGREEING_TOUCHES = 10
MEDIAN_OF = 5


@dataclass(frozen=True, slots=True)
class Cell:
    """What the filter of one load cell remembers."""

    recent: tuple[float, ...] = ()
    level_g: float = 0.0
    slope_g_per_s: float = 0.0
    sampled_s: float = 0.0
    touched: int = 0


@dataclass(frozen=True, slots=True)
class PieceState:
    """One piece in the chamber. ``weight_g`` is the best weight known, ``before_g`` the weigh-in before it."""

    piece: Piece
    status: Status = "drying"
    weight_g: float | None = None
    weighed_s: float = 0.0
    before_g: float | None = None
    before_s: float = 0.0
    cell: Cell | None = None
    done_s: float | None = None
    crossed_s: float | None = None
    final_g: float | None = None

    @property
    def loss_pct(self) -> float | None:
        """Loss so far, per cent of the green weight; None before the first weight."""
        if self.weight_g is None:
            return None
        return 100.0 * (1.0 - self.weight_g / self.piece.green_g)


def refuse_weight(state: PieceState, weight_g: float) -> str | None:
    """Say why ``weight_g`` cannot be this piece's weight, or None when it can."""
    mistake = weight_mistake(green_g=state.piece.green_g, weight_g=weight_g)
    return None if mistake is None else f"{state.piece.name}, {state.piece.green_g:g} g green: {mistake}"


def has_lost(state: PieceState, loss_pct: float) -> bool:
    """Say whether the piece has lost ``loss_pct`` per cent of its green weight, to a millionth of it."""
    green_g = state.piece.green_g
    return state.weight_g is not None and state.weight_g <= green_g * (1.0 - loss_pct / 100.0 + 1e-6)


def weigh_in(state: PieceState, weight_g: float, at_s: float) -> PieceState:
    """Take a weight from a kitchen scale; call ``refuse_weight`` first."""
    cell = None
    if state.cell is not None:
        cell = Cell((), weight_g, state.cell.slope_g_per_s, at_s, 0)
    before_g, before_s = (weight_g, at_s) if state.weight_g is None else (state.weight_g, state.weighed_s)
    final_g = weight_g if state.status == "done" else state.final_g
    return replace(
        state, weight_g=weight_g, weighed_s=at_s, before_g=before_g, before_s=before_s, cell=cell, final_g=final_g
    )


def settle(state: PieceState, now: float) -> PieceState:
    """Call the piece done when its loss has reached its target; ``crossed_s`` is interpolated between weights."""
    if state.status != "drying" or state.weight_g is None or not has_lost(state, state.piece.target_loss_pct):
        return state
    return replace(state, status="done", done_s=now, crossed_s=_crossing(state), final_g=state.weight_g)


def _crossing(state: PieceState) -> float:
    """When the weight passed the target: straight line between the last two weights."""
    target_g = state.piece.target_g
    before_g, weight_g = state.before_g, state.weight_g
    if before_g is None or weight_g is None or before_g <= weight_g or before_g < target_g:
        return state.weighed_s
    share = (before_g - target_g) / (before_g - weight_g)
    return state.before_s + share * (state.weighed_s - state.before_s)


def take_readings(
    layout: Layout, pieces: tuple[PieceState, ...], readings: tuple[Reading, ...], *, door_open: bool
) -> tuple[PieceState, ...]:
    """Feed the load cells' samples to the pieces that hang on them."""
    scales = layout.scales
    if not scales:
        return pieces
    new: list[PieceState] | None = None
    for reading in readings:
        scale = scales.get(reading.channel)
        if scale is None or reading.value is None or reading.fault or door_open:
            continue
        weight_g = reading.value - scale.tare_g
        if not 0.0 < weight_g <= scale.max_g:
            continue
        for i, state in enumerate(new or pieces):
            if state.piece.scale == scale.name and state.status != "pulled":
                if new is None:
                    new = list(pieces)
                new[i] = _sample(scale, state, weight_g, reading.sampled_s)
    return pieces if new is None else tuple(new)


def _sample(scale: Scale, state: PieceState, weight_g: float, at_s: float) -> PieceState:
    cell = state.cell
    green_g = state.piece.green_g
    if cell is None or cell.level_g == 0.0:
        if abs(weight_g - green_g) > 0.5 * green_g:
            return state  # nothing hangs there yet
        cell = Cell((weight_g,), weight_g, 0.0, at_s, 0)
        return replace(state, weight_g=weight_g, weighed_s=at_s, before_g=weight_g, before_s=at_s, cell=cell)
    dt = at_s - cell.sampled_s
    if dt <= 0.0:
        return state
    expected_g = cell.level_g + cell.slope_g_per_s * dt
    if abs(weight_g - expected_g) > TOUCHED * green_g and cell.touched < AGREEING_TOUCHES:
        return replace(state, cell=replace(cell, touched=cell.touched + 1))
    if cell.touched >= AGREEING_TOUCHES:
        cell = Cell((weight_g,), weight_g, cell.slope_g_per_s, at_s, 0)
    else:
        cell = _averaged(scale, cell, weight_g, at_s, dt)
    level_g = cell.level_g
    if level_g > MOST_GAIN * green_g:
        return state
    final_g = level_g if state.status == "done" else state.final_g
    return replace(
        state,
        weight_g=level_g,
        weighed_s=at_s,
        before_g=state.weight_g,
        before_s=state.weighed_s,
        cell=cell,
        final_g=final_g,
    )


def _averaged(scale: Scale, cell: Cell, weight_g: float, at_s: float, dt: float) -> Cell:
    recent = (*cell.recent[1 - MEDIAN_OF :], weight_g)
    middle_g = sorted(recent)[len(recent) // 2]
    keep = exp(-dt / scale.settle_s) if scale.settle_s > 0.0 else 0.0
    expected_g = cell.level_g + cell.slope_g_per_s * dt
    # The median stands for the weight some samples ago; move it to now along the slope.
    error_g = middle_g + cell.slope_g_per_s * dt * (len(recent) // 2) - expected_g
    level_g = expected_g + (1.0 - keep * keep) * error_g
    slope = min(0.0, cell.slope_g_per_s + (1.0 - keep) ** 2 / dt * error_g)
    return Cell(recent, level_g, slope, at_s, 0)


def played(
    pieces: tuple[PieceState, ...], weighings: tuple[Weighing, ...]
) -> tuple[tuple[PieceState, ...], tuple[Event, ...]]:
    """Take the weigh-ins of a recording; one that cannot be true becomes an event and changes nothing."""
    new = list(pieces)
    events: list[Event] = []
    for weighing in weighings:
        index = next((i for i, p in enumerate(new) if p.piece.name == weighing.piece), None)
        why = (
            f"There is no piece called {weighing.piece}."
            if index is None
            else refuse_weight(new[index], weighing.weight_g)
        )
        if index is None or why is not None:
            events.append(Event(kind="weighing-refused", subject=weighing.piece, severity="warning", text=why or "", value=weighing.weight_g))
        elif new[index].status != "pulled":
            new[index] = weigh_in(new[index], weighing.weight_g, weighing.sampled_s)
            events.append(Event(kind="weighed", subject=weighing.piece, text=f"{weighing.piece} weighed {weighing.weight_g:g} g.", value=weighing.weight_g))
    return tuple(new), tuple(events)
