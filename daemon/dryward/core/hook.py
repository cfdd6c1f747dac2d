"""A load cell that carries one piece: its weight as it dries, lifted off, put back, or on another hook."""

from __future__ import annotations

from dataclasses import replace
from math import hypot

from dryward.core import weigh_words as words
from dryward.core.cell import Cell, Jump, feed, restarted
from dryward.core.chamber import Scale
from dryward.core.commands import Event
from dryward.core.lift import Guess, which
from dryward.core.weighing import PieceState, weighs

EMPTY = 0.1
"""Less than this share of the green weight is an empty hook: no piece can lose so much."""
SAME = 0.05
"""A weighing by hand and a cell that are nearer than this share of the green weight mean the same piece."""
LIGHTEST, HEAVIEST = 0.75, 1.05
"""A piece that is hung for the first time weighs so much of its green weight: after salting, resting, a wrong tare."""
STEADY = 3
PUZZLED = 10
OWN_HOOK, OTHER_HOOK = 1.0, 0.1
"""How often a piece comes back to its own hook against any other (no source)."""
LONG_OFF_S = 1800.0
DRIES_OFF = 0.004
"""A piece beside the chamber loses about this share of its weight in an hour, give or take as much (no source)."""


def sample(
    scale: Scale,
    pieces: list[PieceState],
    i: int,
    weight_g: float,
    at_s: float,
    *,
    still: bool,
    zero_doubt_g: float = 0.0,
) -> tuple[Event, ...]:
    """Take a sample of the cell that piece ``i`` hangs on, into ``pieces``. ``weight_g`` has tare and drift taken off.

    ``zero_doubt_g``: by how much the zero may be off all the same; no averaging lessens it, so it is added whole.
    """
    state = pieces[i]
    green_g = state.piece.green_g
    if state.cell is None:
        if still:
            pieces[i] = replace(state, cell=Cell(weight_g, at_s))
        return ()
    before = state.cell
    cell, jump = feed(before, weight_g, at_s, settle_s=scale.settle_s, smallest_g=green_g, still=still)
    if not state.hung:
        pieces[i] = replace(state, cell=cell)
        if state.off_s is None:
            if jump is not None:
                pieces[i] = replace(state, cell=restarted(cell, None))
            return _first(scale, pieces, i)
        if jump is not None and cell.level_g > EMPTY * green_g:
            return _hung_up(scale, pieces, i, jump)
        return _told_by_hand(pieces, i) or still_off(pieces, i, at_s)
    if jump is not None:
        return _jumped(scale, pieces, i, before, cell, jump)
    if cell.sampled_s == before.sampled_s:  # not believed, or the door is open
        pieces[i] = replace(state, cell=cell)
        return ()
    pieces[i] = weighs(state, cell.level_g - state.shift_g, at_s, cell.sigma_g + zero_doubt_g, cell)
    return ()


def _first(scale: Scale, pieces: list[PieceState], i: int) -> tuple[Event, ...]:
    """Wait until the hook shows what can be the piece; say once when it shows what cannot."""
    state = pieces[i]
    cell, piece = state.cell, state.piece
    if cell is None or cell.odd is not None or cell.taken < STEADY or cell.level_g < EMPTY * piece.green_g:
        return ()
    known_g = state.weight_g
    if known_g is not None:
        fits = abs(cell.level_g - known_g) <= SAME * piece.green_g
    else:
        fits = LIGHTEST * piece.green_g <= cell.level_g <= HEAVIEST * piece.green_g
    if fits:
        pieces[i] = weighs(replace(state, hung=True), cell.level_g, cell.sampled_s, cell.sigma_g)
        return ()
    if cell.taken < PUZZLED or "odd" in state.told:
        return ()
    pieces[i] = replace(state, told=(*state.told, "odd"))
    return (words.cannot_be(piece, cell.level_g, scale.name),)


def _jumped(scale: Scale, pieces: list[PieceState], i: int, before: Cell, cell: Cell, jump: Jump) -> tuple[Event, ...]:
    """The cell jumped while the piece hung on it: lifted off, exchanged for another, or touched."""
    state = replace(pieces[i], cell=cell, slope_g_per_s=before.slope_g_per_s)
    pieces[i] = state
    if cell.level_g < EMPTY * state.piece.green_g:
        weight_g = jump.from_g - state.shift_g
        off = weighs(replace(state, hung=False, off_s=jump.at_s), weight_g, jump.at_s, jump.sigma_g)
        pieces[i] = off
        return (words.lifted(state.piece.name, weight_g, off.loss_pct or 0.0, scale.name),)
    if before.taken < PUZZLED:  # hands were still at it when the first samples came
        return ()
    other = _exchanged(pieces, i, jump)
    if other is not None:
        return _move(pieces, other, i, scale, jump)
    shift_g = state.shift_g + jump.change_g
    if abs(shift_g) <= 4.0 * jump.sigma_g:
        shift_g = 0.0
    told = "jump" in state.told
    pieces[i] = replace(state, shift_g=shift_g, told=state.told if told else (*state.told, "jump"))
    if told and abs(jump.change_g) <= words.LARGE * state.piece.green_g:
        return ()  # a fan that lifts the piece does so each time it starts
    return (words.jumped(state.piece, jump.change_g, scale.name),)


def _exchanged(pieces: list[PieceState], i: int, jump: Jump) -> int | None:
    """Return the other piece that now hangs on this cell: one that has left its own, or whose own jumps at this moment."""
    guesses = []
    for k, state in enumerate(pieces):
        moved = (
            state.off_s is not None or state.shift_g != 0.0 or (state.cell is not None and state.cell.odd is not None)
        )
        if k != i and state.cell is not None and moved and state.status != "pulled" and state.weight_g is not None:
            guesses.append(Guess((), (str(k),), state.weight_g, off_sigma_g(state, jump.at_s)))
    found = which(guesses, jump.to_g, sigma_g=jump.sigma_g)
    return None if found.sure is None else int(found.sure.back[0])


def _move(pieces: list[PieceState], k: int, i: int, scale: Scale, jump: Jump) -> tuple[Event, ...]:
    """Piece ``k`` hangs on the cell of piece ``i`` now; ``i`` gets the other cell and has to show up there."""
    mine, other = pieces[i], pieces[k]
    before = other.piece.scale or "another place"
    slope_g_per_s = other.cell.slope_g_per_s if other.hung and other.cell is not None else other.slope_g_per_s
    cell = None if mine.cell is None else restarted(mine.cell, slope_g_per_s)
    there = replace(other, piece=replace(other.piece, scale=scale.name), cell=cell, hung=True, off_s=None, shift_g=0.0)
    pieces[k] = weighs(there, jump.to_g, jump.at_s, jump.sigma_g)
    since_s = jump.at_s if mine.off_s is None else mine.off_s
    pieces[i] = replace(
        mine,
        piece=replace(mine.piece, scale=other.piece.scale),
        cell=other.cell,
        hung=False,
        off_s=since_s,
        shift_g=0.0,
    )
    return (words.other_hook(other.piece.name, jump.to_g, scale.name, before),)


def _hung_up(scale: Scale, pieces: list[PieceState], i: int, jump: Jump) -> tuple[Event, ...]:
    """Something was hung on the empty cell of piece ``i``: that piece, another one, or a stranger."""
    state = pieces[i]
    seen_g = jump.to_g - state.shift_g
    guesses = []
    for k, p in enumerate(pieces):
        if p.off_s is not None and p.cell is not None and p.weight_g is not None and p.status != "pulled":
            chance = OWN_HOOK if k == i else OTHER_HOOK
            guesses.append(
                Guess((), (str(k),), p.weight_g - off_loss_g(p, jump.at_s), off_sigma_g(p, jump.at_s), chance)
            )
    found = which(guesses, seen_g, sigma_g=jump.sigma_g)
    if found.sure is not None and found.sure.back != (str(i),):
        return _move(pieces, int(found.sure.back[0]), i, scale, jump)
    maybe = [int(g.back[0]) for g in found.likely]
    if i not in maybe:
        return (words.which_back([pieces[k].piece.name for k in maybe], seen_g, scale.name),)
    # Its own hook and about its own weight: the owner knows where it belongs.
    by_hand = (
        state.hand_s is not None
        and state.off_s is not None
        and state.hand_s >= state.off_s
        and state.weight_g is not None
    )
    shift_g = jump.to_g - state.weight_g if by_hand and state.weight_g is not None else state.shift_g
    cell = None if state.cell is None else restarted(state.cell, state.slope_g_per_s)
    there = replace(
        state, cell=cell, hung=True, off_s=None, shift_g=shift_g, told=tuple(t for t in state.told if t != "off")
    )
    pieces[i] = weighs(there, jump.to_g - shift_g, jump.at_s, jump.sigma_g)
    return (words.back((state.piece.name,), jump.to_g - shift_g, scale.name),)


def _told_by_hand(pieces: list[PieceState], i: int) -> tuple[Event, ...]:
    """The owner has weighed what was hung up and said that it is this piece."""
    state = pieces[i]
    if (
        state.cell is not None
        and state.off_s is not None
        and state.hand_s is not None
        and state.hand_s >= state.off_s
        and state.weight_g is not None
    ):
        shift_g = state.cell.level_g - state.weight_g
        if abs(shift_g) <= SAME * state.piece.green_g:
            pieces[i] = replace(state, hung=True, off_s=None, shift_g=shift_g)
    return ()


def off_loss_g(state: PieceState, now: float) -> float:
    """Return what a piece has probably lost beside the chamber, g."""
    hours = 0.0 if state.off_s is None else max(0.0, now - state.off_s) / 3600.0
    return min(0.1, DRIES_OFF * hours) * (state.weight_g or 0.0)


def off_sigma_g(state: PieceState, now: float) -> float:
    """Return the doubt in the weight of a piece that is off, g."""
    return hypot(state.sigma_g, 0.5 + off_loss_g(state, now), 1.0 if state.sigma_g == 0.0 else 0.0)


def still_off(pieces: list[PieceState], i: int, now: float) -> tuple[Event, ...]:
    """Remind once of a piece that has been off for long."""
    state = pieces[i]
    if state.off_s is None or now - state.off_s < LONG_OFF_S or state.status == "pulled" or "off" in state.told:
        return ()
    pieces[i] = replace(state, told=(*state.told, "off"))
    return (words.long_off(state.piece.name, (now - state.off_s) / 60.0),)
