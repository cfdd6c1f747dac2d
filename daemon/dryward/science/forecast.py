"""When will each piece be done: an honest forecast from its weighings, the air it had and the air to come.

Many drying shapes, floors and views are followed side by side (beliefs.py, track.py) and drawn from by their evidence; each draw runs on
through the air to come. The finish given is the median of the draws, the interval holds 90 % of them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate, pairwise
from statistics import NormalDist, fmean, pvariance

from dryward.science.beliefs import ALONE, NEW, Found, advised, by_cell, explore, led, limits_for, retrace, shares
from dryward.science.neighbours import shown
from dryward.science.numerics import weighted_quantile
from dryward.science.pace import (
    LIMITS,
    MIDDLE,
    STANDARD,
    AirAt,
    Limit,
    Power,
    averaged,
    complete,
    gains,
    log_power,
    power,
    varied,
)
from dryward.science.series import Weight, resolution_g, thin, tidy
from dryward.science.shapes import Shape
from dryward.science.track import PacePrior, Point

DRAWS = 240
MISFIT = 0.06
DOUBT = 0.1
"""No shape is exact: the rest of the way may be so much faster or slower (log spread) than the best of them."""
GAIN = 0.05
"""A rise by more than this share of the green weight is no weighing error but a mistake."""
HORIZON_S = 365.0 * 86400.0
"""A finish further away than this counts as never."""
NORMAL = NormalDist()
EVENLY = (0.8566748838545029, 0.7338918566271259, 0.6287067210378087, 0.5385972572236101)
"""Steps that fill four dimensions evenly (Roberts 2018): chance without a random generator, so that equal questions get equal answers."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceLog:
    """What is known of one piece: weighings (t_s, weight_g) in any order, and the air it had (none: not known)."""

    piece: str
    green_g: float
    target_g: float
    weighings: Sequence[tuple[float, float]]
    airs: Sequence[AirAt] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Past:
    """What similar runs have shown: the share of each cell, and the log pace in standard air. Made by ``learn``."""

    runs: int
    cells: tuple[float, ...]
    pace: float
    pace_var: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Forecast:
    """The answer for one piece; times in s on the axis of the weighings. None: never with this air.

    Where the target is reached, all three times are the moment when it was crossed.
    """

    piece: str
    green_g: float
    last_g: float
    loss_pct: float
    target_g: float
    reached: bool
    finish_s: float | None
    finish_lo_s: float | None
    finish_hi_s: float | None


@dataclass(frozen=True, slots=True)
class Known:
    """A piece ready to be followed: thinned weights, powers of the air from the last weighing on, and what was found."""

    log: PieceLog
    weights: list[Weight]
    now: Power
    coming: list[tuple[float, Power]]
    limits: tuple[Limit, ...]
    points: list[Point]
    spacing: float
    spent: dict[Limit, list[float]]
    pace: PacePrior | None
    found: list[Found]


def forecast(logs: Sequence[PieceLog], plan: Sequence[AirAt] = (), past: Past | None = None) -> tuple[Forecast, ...]:
    """Forecast the finish of every piece, in the order given.

    ``plan``: air to come, each row from its time on; without it the last air stays. Pieces given together are taken to dry in one chamber.
    Time is linear in the number of weighings. Raises ValueError for a piece that cannot be forecast (see ``mistakes``).
    """
    if wrong := [line for log in logs for line in mistakes(log, past)]:
        raise ValueError("; ".join(wrong))
    known = [known_of(log, plan, past) for log in logs]
    cell_shares = [by_cell(one.found) if one.found else None for one in known]
    curves = [_shown(one) if len(known) > 1 else None for one in known]
    answers = []
    for place, one in enumerate(known):
        others: list[Sequence[float]] = [
            share for other, share in enumerate(cell_shares) if other != place and share is not None
        ]
        if past is not None:
            others += [past.cells] * min(3, past.runs)
        found = advised(one.found, others, ALONE if past is None else NEW)
        target = one.log.target_g / one.log.green_g
        ways = led([curve for other, curve in enumerate(curves) if other != place and curve is not None], target)
        if ways and found:
            found = retrace(found, one.points, one.spent, ways, target=target, pace=one.pace)
        answers.append(_reached(one) or answered(one, found))
    return tuple(answers)


def mistakes(log: PieceLog, past: Past | None = None) -> list[str]:
    """List why a piece cannot be forecast, one sentence each."""
    if not log.green_g > 0.0 or not math.isfinite(log.green_g):
        return [f"piece {log.piece}: green weight is {log.green_g:g} g; it must be above 0"]
    if not 0.0 < log.target_g < log.green_g:
        return [
            f"piece {log.piece}: target is {log.target_g:g} g; it must lie between 0 and the green weight of {log.green_g:g} g"
        ]
    needed = 2 if past is None else 1
    if len({t for t, _ in log.weighings}) < needed:
        return [
            f"piece {log.piece}: {len(log.weighings)} weighing(s) at one time; a forecast needs {needed} at different times"
        ]
    weights = thin(tidy(log.weighings))
    most = max(weights, key=lambda weight: weight.weight_g)
    if most.weight_g > (1.0 + GAIN) * log.green_g:
        return [
            f"piece {log.piece}: {most.weight_g:g} g at {most.t_s:g} s, but its green weight is {log.green_g:g} g; check which piece that was, or its green weight"
        ]
    for before, after in pairwise(weights):
        if after.weight_g - before.weight_g > GAIN * log.green_g:
            return [
                f"piece {log.piece}: {before.weight_g:g} g at {before.t_s:g} s, then {after.weight_g:g} g at {after.t_s:g} s;"
                " a drying piece does not gain so much: check the weight, or which piece it was"
            ]
    return []


def learn(logs: Sequence[PieceLog]) -> Past | None:
    """Learn from finished runs of this chamber what the next piece may do; None when there is nothing to learn from."""
    known = [known_of(log, (), None) for log in logs if not mistakes(log)]
    known = [one for one in known if one.found]
    if not known:
        return None
    mixed = [fmean(values) for values in zip(*(by_cell(one.found) for one in known), strict=True)]
    paces = []
    for one in known:
        pace = math.fsum(share * found.belief.pace for found, share in zip(one.found, shares(one.found), strict=True))
        paces.append(pace - log_power(one.now, STANDARD, MIDDLE))
    spread = pvariance(paces) if len(paces) > 1 else 0.0
    return Past(
        runs=len(known), cells=tuple(mixed), pace=fmean(paces), pace_var=spread + 0.3**2 * (1.0 + 1.0 / len(paces))
    )


def known_of(log: PieceLog, plan: Sequence[AirAt], past: Past | None) -> Known:
    """Thin what was weighed, weigh up the air, and follow the piece on every shape."""
    weights = thin(tidy(log.weighings))
    last_s = weights[-1].t_s
    had = averaged(sorted(log.airs, key=lambda air: air.t_s))
    plan = complete(sorted(plan, key=lambda air: air.t_s), had)
    had = complete(had)
    begun = [air for air in plan if air.t_s <= last_s]
    present = begun[-1:] or had[-1:] or plan[:1]
    now = power(present[0]) if present else STANDARD
    coming = [(last_s, now), *((air.t_s, power(air)) for air in plan if air.t_s > last_s)]
    powers = [power(air) for air in had] or [now]
    sampled = [air.t_s for air in had] or [last_s]
    limits = limits_for(varied(powers))
    times = [weight.t_s for weight in weights]
    spent = {limit: gains(times, sampled, powers, now, limit) for limit in limits}
    points = [Point(weight.weight_g / log.green_g, math.sqrt(1.0 / weight.count + 0.02)) for weight in weights]
    pace = None if past is None else PacePrior(past.pace + log_power(now, STANDARD, MIDDLE), past.pace_var)
    step = resolution_g([weight for _, weight in log.weighings[:200]]) / log.green_g
    found = explore(points, spent, target=log.target_g / log.green_g, resolution=step, pace=pace)
    return Known(
        log, weights, now, coming, limits, points, (last_s - times[0]) / max(1, len(times) - 1), spent, pace, found
    )


def _shown(one: Known) -> tuple[Shape, float] | None:
    """What this piece shows those behind it."""
    if not one.found:
        return None
    noise = math.fsum(share * found.view.noise for share, found in zip(shares(one.found), one.found, strict=True))
    best = max(one.found, key=lambda found: found.weight)
    return shown(list(accumulate(one.spent[best.view.limit], initial=0.0)), [point.y for point in one.points], noise)


def _reached(one: Known) -> Forecast | None:
    """The answer for a piece at its target: when it crossed it. A fast log must be there by its median, not by one dip."""
    target_g = one.log.target_g
    last = one.weights[-1]
    last_g = max(one.log.weighings)[1] if last.count == 1 else last.weight_g
    if last_g > target_g:
        return None
    crossed_s = one.weights[0].t_s
    for before, after in pairwise(one.weights):
        if after.weight_g <= target_g < before.weight_g:
            crossed_s = before.t_s + (before.weight_g - target_g) / (before.weight_g - after.weight_g) * (
                after.t_s - before.t_s
            )
            break
    return _written(one, reached=True, times=(crossed_s, crossed_s, crossed_s))


def answered(one: Known, found: Sequence[Found]) -> Forecast:
    """The answer that these beliefs give for a piece that has not reached its target."""
    if not found:
        return _written(one, reached=False, times=(None, None, None))
    finishes = sorted(_draws(one, found))
    even = [1.0] * len(finishes)
    low, middle, high = (weighted_quantile(finishes, even, share) for share in (0.05, 0.5, 0.95))
    return _written(one, reached=False, times=tuple(t if math.isfinite(t) else None for t in (middle, low, high)))


def _written(one: Known, *, reached: bool, times: Sequence[float | None]) -> Forecast:
    log = one.log
    last_g = max(log.weighings)[1]
    return Forecast(
        piece=log.piece,
        green_g=log.green_g,
        last_g=last_g,
        loss_pct=100.0 * (1.0 - last_g / log.green_g),
        target_g=log.target_g,
        reached=reached,
        finish_s=times[0],
        finish_lo_s=times[1],
        finish_hi_s=times[2],
    )


def _draws(one: Known, found: Sequence[Found]) -> list[float]:
    """Draw finishes from the beliefs, as many from each as its share asks for; infinite where it never gets there."""
    finishes: list[float] = []
    gathered = 0.0
    for share, place in sorted(((share, place) for place, share in enumerate(shares(found))), reverse=True):
        gathered += share
        while len(finishes) < int(gathered * DRAWS + 0.5):
            number = len(finishes) + 1
            odds = [NORMAL.inv_cdf(min(max((0.5 + number * step) % 1.0, 1e-6), 1.0 - 1e-6)) for step in EVENLY]
            finishes.append(_finish(one, found[place], odds, number))
    return finishes


def _finish(one: Known, found: Found, odds: Sequence[float], number: int) -> float:
    """Run one draw on to the target: ``odds`` are standard normal, for stage, pace, the rest of the way and the last weighing."""
    cell, belief, last_s = found.cell, found.belief, one.weights[-1].t_s
    target = one.log.target_g / one.log.green_g
    if cell.depth >= 1.0:
        return math.inf
    moved = math.sqrt(max(belief.stage_var, 0.0)) * odds[0]
    slope = belief.both / belief.stage_var if belief.stage_var > 0.0 else 0.0
    pace = belief.pace + slope * moved + math.sqrt(max(belief.pace_var - slope * belief.both, 0.0)) * odds[1]
    floor = cell.floor(target)
    goal = cell.shape.stage((target + found.view.noise * odds[3] - floor) / (1.0 - floor))
    to_go = goal - belief.stage - moved
    if to_go <= 0.0:
        return last_s
    growth = min(2.0, math.log(goal / max(belief.stage + moved, 0.05 * goal)))
    pace += (
        math.sqrt(
            found.view.wander**2 * growth / 3.0
            + found.view.flicker**2 / max(1.0, to_go * math.exp(-pace) / one.spacing)
            + MISFIT**2
            + (DOUBT * max(0.0, (one.weights[-1].weight_g - one.log.target_g) / (one.log.green_g - one.log.target_g)))
            ** 2
        )
        * odds[2]
    )
    limit = found.view.limit if len(one.limits) > 1 else _any_limit(number)
    needed = to_go * math.exp(-pace)
    for (start_s, air), (end_s, _) in pairwise([*one.coming, (math.inf, one.now)]):
        speed = math.exp(log_power(air, one.now, limit))
        if needed <= speed * (end_s - start_s):
            finish_s = start_s + needed / speed
            return finish_s if finish_s - last_s < HORIZON_S else math.inf
        needed -= speed * (end_s - start_s)
    return math.inf


def _any_limit(number: int) -> Limit:
    """A limit by its trust, for a piece whose weighings cannot tell: the draws go round them evenly."""
    place = (number * 0.6180339887498949) % 1.0 * math.fsum(limit.trust for limit in LIMITS)
    for limit in LIMITS:
        place -= limit.trust
        if place <= 0.0:
            return limit
    return LIMITS[-1]
