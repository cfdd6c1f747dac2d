"""When to come back: the fewest openings by which no piece is likely to dry too far.

Each piece has a span in which its next weigh-in makes sense. The latest moment is when it may, with the wanted certainty, have
passed its target by so much time that it is dried too far (``late_s``). The earliest is when a weigh-in narrows the rest enough
that one more will do. Spans that overlap share one opening: going always to the latest moment that no span forbids hits all spans
with the fewest openings (the greedy solution of the interval stabbing problem, optimal; Cormen et al., Introduction to Algorithms,
greedy algorithms). Quiet hours are gone round, to the side that dries nothing too far when there is one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import inf, isfinite
from statistics import NormalDist

LEAST_LATE_S, MOST_LATE_S = 1800.0, 86_400.0
TOO_FAR = 0.01
"""A piece that has lost a hundredth of its green weight more than it should is dried too far (a choice, no source)."""
CERTAINTY = 0.95
"""How sure it has to be that no piece is dried too far when somebody comes."""
FORECAST_SIDE = 0.95
"""One end of a 90 % interval."""
FURTHEST = 8
"""So many openings are planned ahead; each weigh-in makes a new plan anyway."""
AGAIN_S = 1800.0
"""A piece that was not ready is not weighed again earlier than this."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Awaited:
    """A piece that somebody has to see to. Times in s on one axis; ``finish_s`` inf: never.

    ``by_hand``: only a weigh-in tells how far it is; else its scale announces it. ``late_s``: see ``late_s()``.
    """

    piece: str
    by_hand: bool
    finish_s: float
    lo_s: float
    hi_s: float
    late_s: float


@dataclass(frozen=True, slots=True)
class Span:
    """From when to when a piece's next weigh-in makes sense."""

    piece: str
    from_s: float
    to_s: float


@dataclass(frozen=True, slots=True)
class Visit:
    """One opening: which pieces to weigh, which of them (or of those on scales) are then probably ready."""

    at_s: float
    weigh: tuple[str, ...]
    ready: tuple[str, ...]


Quiet = Sequence[tuple[float, float]]
"""Times in which nobody is to be called, in order and apart from each other."""


def late_s(*, green_g: float, target_g: float, weighings: Sequence[tuple[float, float]], finish_s: float) -> float:
    """Return the time after its target in which a piece loses another hundredth of its green weight, s.

    By the rate at which it lost its last three hundredths, or at which it is expected to lose the rest, whichever is quicker:
    at the end it dries more slowly than either, so that there is rather more time. ``weighings``: (s, g) in order of time.
    """
    last_s, last_g = weighings[-1]
    before = next((row for row in reversed(weighings) if row[1] - last_g >= 3.0 * TOO_FAR * green_g), weighings[0])
    rates = [0.0]
    if before[0] < last_s:
        rates.append((before[1] - last_g) / (last_s - before[0]))
    if isfinite(finish_s) and finish_s > last_s:
        rates.append((last_g - target_g) / (finish_s - last_s))
    fastest = max(rates)
    return LEAST_LATE_S if fastest <= 0.0 else min(MOST_LATE_S, max(LEAST_LATE_S, TOO_FAR * green_g / fastest))


def span(one: Awaited, now: float, *, certainty: float = CERTAINTY) -> Span:
    """Return when the next weigh-in of a piece makes sense; of one on a scale of its own, when to take it out.

    ``certainty`` is the chance that it is not dried too far by ``to_s``.
    """
    if one.finish_s <= now:
        return Span(one.piece, now, now)
    half_s = (one.finish_s - one.lo_s) * _sigmas(certainty) / _sigmas(FORECAST_SIDE)
    to_s = one.finish_s - half_s + one.late_s
    if not one.by_hand or to_s >= one.finish_s:
        from_s = one.finish_s
        return Span(one.piece, from_s, max(from_s, to_s))
    from_s = one.finish_s - one.late_s * (one.finish_s - now) / half_s
    to_s = max(now, to_s)
    return Span(one.piece, min(max(now, from_s), to_s), to_s)


def stab(spans: Sequence[Span], quiet: Quiet = ()) -> float | None:
    """Return the moment of the first opening; None when there is nothing to come for."""
    if not spans:
        return None
    last_s = min(one.to_s for one in spans)
    for begin_s, end_s in quiet:
        if begin_s < last_s < end_s:
            earliest_s = max(one.from_s for one in spans if one.to_s == last_s)
            return begin_s if begin_s >= earliest_s else end_s
    return last_s


def openings(spans: Sequence[Span]) -> list[float]:
    """Return the fewest moments that hit every span, in order."""
    left, moments = list(spans), list[float]()
    while (at_s := stab(left)) is not None:
        moments.append(at_s)
        left = [one for one in left if one.from_s > at_s]
    return moments


def plan(
    awaited: Sequence[Awaited], others: Sequence[Span], quiet: Quiet, now: float, *, certainty: float = CERTAINTY
) -> tuple[Visit, ...]:
    """Plan the openings to come. ``others``: spans of pieces that cannot be forecast yet.

    What a weigh-in will show is not known; it is taken to confirm the middle and to narrow the doubt by the share of the way
    that it has come nearer.
    """
    pieces = [one for one in awaited if isfinite(one.finish_s)]
    waiting, clock, visits = list(others), now, list[Visit]()
    while len(visits) < FURTHEST:
        spans = {one.piece: _not_before(span(one, clock, certainty=certainty), clock) for one in pieces}
        at_s = stab([*spans.values(), *waiting], quiet)
        if at_s is None:
            break
        here = [one for one in pieces if spans[one.piece].from_s <= at_s]
        ready = tuple(one.piece for one in here if one.finish_s <= at_s)
        weigh = tuple(one.piece for one in here if one.by_hand) + tuple(s.piece for s in waiting if s.from_s <= at_s)
        visits.append(Visit(at_s, weigh, ready))
        waiting = [s for s in waiting if s.from_s > at_s]
        met = {one.piece for one in here}
        pieces = [_seen(one, clock, at_s) if one.piece in met else one for one in pieces if one.piece not in ready]
        clock = max(at_s, clock)
    return tuple(visits)


def _seen(one: Awaited, before_s: float, at_s: float) -> Awaited:
    """The piece after a weigh-in that showed what was expected."""
    share = (one.finish_s - at_s) / max(1.0, one.finish_s - before_s)
    narrower = replace(
        one,
        lo_s=one.finish_s - share * (one.finish_s - one.lo_s),
        hi_s=one.finish_s if one.hi_s == inf else one.finish_s + share * (one.hi_s - one.finish_s),
    )
    again_s = at_s + AGAIN_S
    if narrower.finish_s <= again_s:  # so near that one waits for it
        return replace(narrower, finish_s=again_s, lo_s=again_s, hi_s=max(again_s, narrower.hi_s))
    return narrower


def _not_before(one: Span, clock: float) -> Span:
    """A span whose end has passed asks for an opening now."""
    return one if one.to_s >= clock else Span(one.piece, clock, clock)


def _sigmas(certainty: float) -> float:
    return NormalDist().inv_cdf(min(max(certainty, 0.5), 0.9999))
