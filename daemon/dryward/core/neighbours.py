"""A piece that dries unlike its neighbours: the place it hangs in, or something that nobody said about it."""

from __future__ import annotations

from dataclasses import replace
from statistics import median

from dryward.core import weigh_words as words
from dryward.core.commands import Event
from dryward.core.weighing import PieceState
from dryward.science.falling import WATER, pace, stage

EVERY_S = 3600.0
LEAST_H, LEAST_GONE = 6.0, 0.12
"""Earlier than this the surface decides, and every piece is its own case."""
SLOW, FAST = 0.6, 1.7
"""Fat and grain make half as much again (no source); what lies further out is worth a look."""
FEWEST = 3
MOST_DOUBT = 0.015
LATELY = 0.9


def look(
    pieces: tuple[PieceState, ...], began_s: float, now: float
) -> tuple[tuple[PieceState, ...], tuple[Event, ...]]:
    """Say once of each piece that it dries at quite another pace than the others; call it about once an hour."""
    speeds = {i: speed for i, p in enumerate(pieces) if (speed := _speed(p, began_s, now)) is not None}
    if len(speeds) < FEWEST:
        return pieces, ()
    new = list(pieces)
    events: list[Event] = []
    for i, speed in speeds.items():
        ratio = speed / median(s for k, s in speeds.items() if k != i)
        if not SLOW <= ratio <= FAST and "unlike" not in pieces[i].told:
            new[i] = replace(pieces[i], told=(*pieces[i].told, "unlike"))
            events.append(words.unlike(pieces[i].piece.name, ratio))
    return (tuple(new), tuple(events)) if events else (pieces, ())


def _speed(state: PieceState, began_s: float, now: float) -> float | None:
    """How fast the piece has dried, its form allowed for; None while that cannot be told."""
    piece, weight_g, lasted_s = state.piece, state.weight_g, state.weighed_s - began_s
    if (
        state.status != "drying"
        or weight_g is None
        or lasted_s < LATELY * (now - began_s)
        or now - began_s < LEAST_H * 3600.0
    ):
        return None
    gone = (1.0 - weight_g / piece.green_g) / WATER
    if not LEAST_GONE <= gone < 1.0 or state.sigma_g > MOST_DOUBT * piece.green_g:
        return None
    return stage(gone) / pace(green_g=piece.green_g, thickness_mm=piece.thickness_mm) / lasted_s
