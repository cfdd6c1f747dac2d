"""Weights to losses: each piece against its own green weight.

A weight typed in from a kitchen scale is taken as it is. A weight from a load cell (``hook``) or estimated from a shared
scale (``rack``) carries its doubt, ``sigma_g``; it counts as a loss reached only when it is certain enough.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

from dryward.core.cell import Cell
from dryward.core.commands import Event
from dryward.core.frozen import frozen
from dryward.core.inputs import Weighing
from dryward.core.program import Piece
from dryward.science.loss import weight_mistake

Status = Literal["drying", "done", "pulled"]
CERTAIN = 1.645
"""An estimate has reached a loss when its whole 90 % interval lies below: so many standard deviations."""
CERTAIN_CELL = 1.0
"""What a cell of its own measures goes through the target slowly: one standard deviation, or it would be told late."""
HAND_G, HAND_SHARE = 1.0, 0.001
"""Doubt of a kitchen scale: a gram and a thousandth (R 76 allows class III 1.5 e at the top; e is 1 g on most)."""
HEAVIER = 0.01
SUDDEN, QUICKER, QUICKEST_PER_H = 0.05, 3.0, 0.25
"""A loss above this share of the green weight is sudden when it is so many times quicker than the one before it, or, where there was
none that can be compared, quicker than this share an hour: thin slices in hot air lose a fifth in the first hour (no source)."""
LONGEST_AGO_S = 3600.0
STRANGE = "strange"
"""Told of a piece whose newest weight by hand is strange: it is not done before another says so too."""


@frozen
class PieceState:
    """One piece in the chamber. ``weight_g`` is the best weight known, ``before_g`` the one before it.

    ``sigma_g`` is the standard deviation of ``weight_g``; 0 for a weight typed in. ``hand_s`` is when one was typed in last.
    A piece with a cell of its own: ``hung`` says whether it hangs there, ``shift_g`` how much more the cell shows than
    the piece weighs. ``slope_g_per_s`` how it dried when it was lifted off. ``off_s`` is since when a piece is off its hook or rack. ``told``
    holds what was said once already.
    """

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
    sigma_g: float = 0.0
    hand_s: float | None = None
    hung: bool = False
    shift_g: float = 0.0
    off_s: float | None = None
    slope_g_per_s: float = 0.0
    told: tuple[str, ...] = ()

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


def doubt_weight(state: PieceState, weight_g: float, at_s: float) -> str | None:
    """Say what is strange about a weight that is taken all the same, or None: meat neither gains nor loses all at once."""
    known_g = state.weight_g
    if known_g is None:
        return None
    lost_g, green_g = known_g - weight_g, state.piece.green_g
    known = f"{known_g:.0f} g" if state.sigma_g == 0.0 else f"about {known_g:.0f} g"
    name = state.piece.name
    again = f"is it {name}, and was the scale at zero? Weigh it again if you doubt it; the newest weight counts."
    if -lost_g > max(HEAVIER * green_g, 3.0 * state.sigma_g, 3.0 * HAND_G):
        return (
            f"That is {-lost_g:.0f} g more than the {known} it weighed before, and drying meat gains no weight: {again}"
        )
    passed_s = max(0.0, at_s - state.weighed_s)
    most_g_per_s = QUICKEST_PER_H * green_g / 3600.0
    if state.before_g is not None and state.weighed_s - state.before_s > passed_s / QUICKER:
        most_g_per_s = QUICKER * (state.before_g - known_g) / (state.weighed_s - state.before_s)
    if lost_g > max(SUDDEN * green_g, 3.0 * state.sigma_g, most_g_per_s * passed_s):
        return (
            f"That is {lost_g:.0f} g less than the {known} it weighed before, more than it can have lost since: {again}"
        )
    return None


def has_lost(state: PieceState, loss_pct: float) -> bool:
    """Say whether the piece has certainly lost ``loss_pct`` per cent of its green weight, to a millionth of it."""
    if state.weight_g is None:
        return False
    doubt_g = (CERTAIN_CELL if state.hung else CERTAIN) * state.sigma_g
    return state.weight_g + doubt_g <= state.piece.green_g * (1.0 - loss_pct / 100.0 + 1e-6)


def weighs(state: PieceState, weight_g: float, at_s: float, sigma_g: float, cell: Cell | None = None) -> PieceState:
    """Give the piece a newer weight, and its cell's state where that has changed too."""
    before_g, before_s = (weight_g, at_s) if state.weight_g is None else (state.weight_g, state.weighed_s)
    return PieceState(
        state.piece,
        state.status,
        weight_g,
        at_s,
        before_g,
        before_s,
        cell or state.cell,
        state.done_s,
        state.crossed_s,
        weight_g if state.status == "done" else state.final_g,
        sigma_g,
        state.hand_s,
        state.hung,
        state.shift_g,
        state.off_s,
        state.slope_g_per_s,
        state.told,
    )


def weigh_in(state: PieceState, weight_g: float, at_s: float, *, ended: bool = False) -> PieceState:
    """Take a weight from a kitchen scale; call ``refuse_weight`` first. A cell is set right by it.

    The newest weight counts: a piece that was called done by a wrong one dries again, unless its run has ``ended``.
    """
    cell, shift_g = state.cell, state.shift_g
    if cell is not None and state.hung:
        shift_g = cell.at(at_s) - weight_g
    told = tuple(t for t in state.told if t not in ("weigh", "jump", STRANGE))
    after = replace(weighs(state, weight_g, at_s, 0.0), hand_s=at_s, shift_g=shift_g, told=told)
    if ended or not was_done_too_early(state, weight_g):
        return after
    return replace(after, status="drying", done_s=None, crossed_s=None, final_g=None)


def was_done_too_early(state: PieceState, weight_g: float) -> bool:
    """Say whether a piece that was called done weighs more than its target after all, a kitchen scale's doubt allowed for."""
    doubt_g = HAND_G + HAND_SHARE * weight_g
    return state.status == "done" and weight_g > state.piece.target_g + doubt_g


def settle(state: PieceState, now: float) -> PieceState:
    """Call the piece done when its loss has reached its target; ``crossed_s`` is interpolated between weights."""
    if state.status != "drying" or state.weight_g is None or not has_lost(state, state.piece.target_loss_pct):
        return state
    if STRANGE in state.told:
        return state
    return replace(state, status="done", done_s=now, crossed_s=_crossing(state), final_g=state.weight_g)


def _crossing(state: PieceState) -> float:
    """When the weight passed the target: on a straight line through the last two weights, or along the cell's slope."""
    weight_g, before_g, passed_s = state.weight_g, state.before_g, state.weighed_s - state.before_s
    if weight_g is None or before_g is None:
        return state.weighed_s
    if state.hung and state.cell is not None:
        rate = -state.cell.slope_g_per_s
    else:
        rate = (before_g - weight_g) / passed_s if passed_s > 0.0 else 0.0
    if rate <= 0.0:
        return state.weighed_s
    ago_s = (state.piece.target_g - weight_g) / rate
    return state.weighed_s - min(ago_s, max(passed_s, LONGEST_AGO_S))


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
            events.append(
                Event(
                    kind="weighing-refused",
                    subject=weighing.piece,
                    severity="warning",
                    text=why or "",
                    value=weighing.weight_g,
                )
            )
        elif new[index].status != "pulled":
            new[index] = weigh_in(new[index], weighing.weight_g, weighing.sampled_s)
            events.append(
                Event(
                    kind="weighed",
                    subject=weighing.piece,
                    text=f"{weighing.piece} weighed {weighing.weight_g:g} g.",
                    value=weighing.weight_g,
                )
            )
    return tuple(new), tuple(events)
