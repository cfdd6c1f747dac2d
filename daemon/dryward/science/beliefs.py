"""What the weighings of a piece say about its drying: every shape, floor and view is followed and weighed by its evidence.

A *cell* is a drying shape with a place for its floor; a *view* is an error of the weighing, a steadiness of the pace and an idea of
what limits drying. The trust given beforehand is wide on purpose: nothing here is fitted to a data set.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import pairwise

from dryward.science.pace import LIMITS, MIDDLE, Limit
from dryward.science.shapes import Shape, shapes
from dryward.science.track import Belief, PacePrior, Point, follow

DEPTHS = (0.15, 0.28, 0.42, 0.56, 0.7, 0.81, 0.89, 0.95, 0.985)
"""Target loss as a share of all the loss that this air can bring: 0.7 puts the floor well below the target."""

LEAST = 0.05
"""No target is believed to be less than this share of the loss the air can bring."""

BEYOND = (1.02, 1.07, 1.15, 1.3, 1.6, 2.2)
"""The same with the floor above the target: never with this air."""

BEYOND_TRUST = 0.004
"""People choose targets that can be reached; a plateau must show itself before "never" is said."""

BRAKING, BRAKING_SPREAD, QUARTERS = 1.15, 0.18, 4.0 / 3.0
"""How much longer the whole way takes than four thirds of its first three quarters, and its log spread. A constant rate gives 1, loss
as the root of time (Crank: a deep body) 4/3, and more when the floor is near: the middle lies half-way between the first two."""

WATERS = ((0.05, 0.55, 0.3), (0.55, 0.95, 0.7))
"""Water in what is dried, as a share of the green weight: (from, to, trust). Raw meat 0.69-0.74 (USDA SR 26, see composition.py);
fresh fruit, vegetables, leaves 0.75-0.95, grain, cheese and half-dry goods 0.1-0.55 (from memory)."""

TO_ITS_WATER = 0.7
"""Trust that the floor is where the water ends; otherwise it lies anywhere (a crust, closed pores, an air that holds it up)."""

NOISES = (0.0001, 0.0004, 0.0015, 0.005)
"""Error of a weighing as a share of the green weight: laboratory balance to kitchen scale."""

WANDERS = ((0.08, 0.0, 0.3), (0.2, 0.0, 0.45), (0.5, 0.0, 0.25), (0.08, 0.3, 0.2))
"""How much the pace wanders with each e-fold of progress, and the trust in it."""

INDEPENDENT = 24
"""So many weighings of one curve count fully as evidence; more do not make the shapes more different than they are."""

ALONE, NEW = 0.5, 0.25
"""Trust that a piece dries unlike its neighbours, about whom nothing is known; and unlike like meat that this chamber dried before."""

CAP = 4.0
"""One neighbour multiplies the trust in a shape by no more than this."""

LED = 1.0
"""Trust in the curves of neighbours that are further on, against all shapes together: nothing is known beforehand, so as much."""

LEADERS = 6
"""So many neighbours are followed at most."""

DEEPEST = 0.97
"""The very end of a neighbour's curve is not followed: it may be an error of one weighing."""

STRETCHES, STRETCH = (0.65, 0.75, 0.87, 1.0, 1.15, 1.32, 1.5), 0.2
"""A neighbour's curve may bend at so much less or more loss than the piece's, and the log spread of that (meat to meat, leaf to leaf:
a fifth; no source)."""

SCOUTS = frozenset(("Page 0.7", "Page 1", "order 0.5", "knee 0.6"))
SCOUTED = frozenset((0.28, 0.7, 0.95))
KEPT_VIEWS, KEPT_NATS = 6, 5.0
"""Views are tried on a few cells first; these many of the best, within so much evidence, are followed on all cells."""


@dataclass(frozen=True, slots=True, eq=False)
class Cell:
    """A shape with a floor, placed by ``depth``."""

    shape: Shape
    depth: float
    trust: float

    def floor(self, target: float) -> float:
        """Return the floor as a share of the green weight, for a target given so."""
        return 1.0 - (1.0 - target) / self.depth


@dataclass(frozen=True, slots=True)
class View:
    """How the weighings are looked at."""

    noise: float
    wander: float
    flicker: float
    limit: Limit
    trust: float


@dataclass(frozen=True, slots=True)
class Found:
    """A belief about a piece under one cell and view, with its log weight; ``water`` is the part of it that the piece's water gives."""

    cell: Cell
    view: View
    belief: Belief
    weight: float
    water: float = 0.0


@cache
def cells() -> tuple[Cell, ...]:
    """Return all cells; their trusts add up to 1."""
    found = []
    for shape in shapes():
        for depth in DEPTHS:
            low, high = edges()[depth]
            braking = shape.stage(1.0 - depth) / shape.stage(1.0 - depth / QUARTERS) / QUARTERS
            odd = math.log(braking / BRAKING) / BRAKING_SPREAD
            found.append(
                Cell(
                    shape,
                    depth,
                    shape.trust * (high - low) * depth**0.5 * (0.01 + math.exp(-0.5 * odd * odd)),
                )
            )
        found += [Cell(shape, depth, shape.trust * BEYOND_TRUST / len(BEYOND)) for depth in BEYOND]
    whole = math.fsum(cell.trust for cell in found)
    return tuple(Cell(cell.shape, cell.depth, cell.trust / whole) for cell in found)


@cache
def edges() -> Mapping[float, tuple[float, float]]:
    """Return the span of depths that each of ``DEPTHS`` stands for."""
    borders = [LEAST, *((a + b) / 2.0 for a, b in pairwise(DEPTHS)), 1.0]
    return dict(zip(DEPTHS, pairwise(borders), strict=True))


@cache
def watered(depth: float, loss: float) -> float:
    """Return how much more a depth is trusted when the target is this ``loss`` (0..1), from what water foods hold: 1 is no more.

    The floor may lie where the water ends: ``loss`` over a depth is then the water of the piece.
    """
    span = edges().get(depth)
    if span is None:
        return 1.0
    low, high = span
    inside = math.fsum(
        trust * max(0.0, min(loss / low, most) - max(loss / high, least)) / (most - least)
        for least, most, trust in WATERS
    )
    whole = math.fsum(
        trust * max(0.0, min(loss / LEAST, most) - max(loss, least)) / (most - least) for least, most, trust in WATERS
    )
    if whole <= 0.0:
        return 1.0
    return 1.0 - TO_ITS_WATER + TO_ITS_WATER * inside / whole * (1.0 - LEAST) / (high - low)


def led(shown: Sequence[tuple[Shape, float]], target: float) -> list[Cell]:
    """Return cells for the curves of neighbours (shape, loss at its end) that have been where this piece is going."""
    ahead = [(shape, reach) for shape, reach in shown if reach > 0.9 * (1.0 - target)][:LEADERS]
    odds = [math.exp(-0.5 * (math.log(stretch) / STRETCH) ** 2) for stretch in STRETCHES]
    found = []
    for shape, reach in ahead:
        for stretch, odd in zip(STRETCHES, odds, strict=True):
            depth = (1.0 - target) / (stretch * reach)
            if depth < DEEPEST:
                found.append(Cell(shape, depth, LED * odd / math.fsum(odds) / len(ahead)))
    return found


def explore(
    points: Sequence[Point],
    gains: Mapping[Limit, Sequence[float]],
    *,
    target: float,
    resolution: float,
    pace: PacePrior | None,
) -> list[Found]:
    """Follow a piece through all cells and the views worth it; ``target`` and ``resolution`` are shares of the green weight.

    ``gains`` holds the gains under each limit to be tried: only one where the air did not change.
    """
    least = max(0.3 * resolution, 2e-5)
    views = [
        View(noise, wander, flicker, limit, trust * (limit.trust if len(gains) > 1 else 1.0))
        for noise in sorted({max(noise, least) for noise in NOISES})
        for wander, flicker, trust in WANDERS
        for limit in gains
    ]
    scouts = [cell for cell in cells() if cell.shape.name in SCOUTS and cell.depth in SCOUTED]
    found: list[Found] = []
    for view in _worth(views, [_seen(points, gains, view, scouts, target, pace) for view in views]):
        found += _seen(points, gains, view, cells(), target, pace)
    return found


def retrace(
    found: Sequence[Found],
    points: Sequence[Point],
    gains: Mapping[Limit, Sequence[float]],
    ways: Sequence[Cell],
    *,
    target: float,
    pace: PacePrior | None,
) -> list[Found]:
    """Follow a piece along ``ways`` that others have gone (see ``led``) too, under the views of ``found``; all beliefs are returned."""
    views = dict.fromkeys(one.view for one in found)
    return [*found, *(one for view in views for one in _seen(points, gains, view, ways, target, pace))]


def _worth(views: Sequence[View], seen: Sequence[Sequence[Found]]) -> list[View]:
    """The views under which the scouts explain the weighings best."""
    scores = [(log_sum([one.weight for one in found]), place) for place, found in enumerate(seen) if found]
    best = max(scores, default=(0.0, 0))[0]
    return [views[place] for score, place in sorted(scores, reverse=True)[:KEPT_VIEWS] if score > best - KEPT_NATS]


def _seen(
    points: Sequence[Point],
    gains: Mapping[Limit, Sequence[float]],
    view: View,
    ways: Sequence[Cell],
    target: float,
    pace: PacePrior | None,
) -> list[Found]:
    share = min(1.0, math.sqrt(INDEPENDENT / len(points)))
    found = []
    for cell in ways:
        floor = cell.floor(target)
        if floor < 0.0:
            continue
        belief = follow(
            points,
            gains[view.limit],
            cell.shape,
            floor=floor,
            noise=view.noise,
            wander=view.wander,
            flicker=view.flicker,
            prior=pace,
        )
        if belief is not None:
            water = math.log(watered(cell.depth, 1.0 - target))
            weight = share * belief.evidence + math.log(cell.trust * view.trust) + water
            found.append(Found(cell, view, belief, weight, water))
    return found


def shares(found: Sequence[Found]) -> list[float]:
    """Return the weights of the beliefs, adding up to 1."""
    whole = log_sum([one.weight for one in found])
    return [math.exp(one.weight - whole) for one in found]


def by_cell(found: Sequence[Found]) -> list[float]:
    """Return the share of each cell, from the weighings alone: what is known of the water each piece adds for itself."""
    whole = dict.fromkeys(cells(), 0.0)
    bare = [one.weight - one.water for one in found]
    top = log_sum(bare)
    for one, weight in zip(found, bare, strict=True):
        whole[one.cell] += math.exp(weight - top)
    return list(whole.values())


def advised(found: Sequence[Found], others: Sequence[Sequence[float]], alone: float = ALONE) -> list[Found]:
    """Weigh the beliefs anew, knowing the cell shares of other pieces that dry alike.

    Partial pooling: with probability ``alone`` a piece has a shape of its own, otherwise that of the others, which is known as far as
    they show it. Whether a floor lies beyond the target is left to each piece's own weighings.
    """
    if not others or not found:
        return list(found)
    trusts = [cell.trust for cell in cells()]
    common = [
        math.log(trust) + sum(math.log(min(CAP, alone + (1.0 - alone) * other[place] / trust)) for other in others)
        for place, trust in enumerate(trusts)
    ]
    whole = log_sum(common)
    advice = {
        cell: math.log(alone + (1.0 - alone) * math.exp(value - whole) / trust) if cell.depth < 1.0 else 0.0
        for value, trust, cell in zip(common, trusts, cells(), strict=True)
    }
    return [Found(one.cell, one.view, one.belief, one.weight + advice[one.cell], one.water) for one in found]


def log_sum(values: Sequence[float]) -> float:
    """Return the log of the sum of exponentials."""
    top = max(values)
    return top + math.log(math.fsum(math.exp(value - top) for value in values))


def limits_for(varied: bool) -> tuple[Limit, ...]:
    """Return the limits that the weighings can tell apart: all where the air has varied, else one in the middle."""
    return LIMITS if varied else (MIDDLE,)
