"""Follow one piece along one drying shape: a Kalman filter for its stage and its pace, and how well the shape explains the weights.

The stage z runs at ``exp(pace) * gain``, where the gain is time weighted by the drying power of the air. The pace is not constant: it
wanders, its variance growing by ``wander^2`` with every e-fold of the stage. So the recent weighings count most, on any time scale.
Method: extended Kalman filter (Kalman 1960) with outliers held back; the evidence is that of a Student distribution.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from dryward.science.shapes import Shape

SETTLING, SETTLES = 0.15, 0.05
"""Over this first share of the time the pace may settle by so much variance: a piece warms up and its surface dries."""

STUDENT = 8.0
"""Degrees of freedom of the weighing error: a few outliers are normal at a kitchen scale."""


@dataclass(frozen=True, slots=True)
class Point:
    """One weighing as a share of the green weight; ``spread`` is its standard deviation in units of the noise level."""

    y: float
    spread: float


@dataclass(frozen=True, slots=True)
class Belief:
    """Where a piece stands on a shape: stage, log pace, their variances and covariance, log evidence."""

    stage: float
    pace: float
    stage_var: float
    both: float
    pace_var: float
    evidence: float


@dataclass(frozen=True, slots=True)
class PacePrior:
    """What is known of the log pace before the first weighing."""

    mean: float
    var: float


def follow(
    points: Sequence[Point],
    gains: Sequence[float],
    shape: Shape,
    *,
    floor: float,
    noise: float,
    wander: float,
    flicker: float,
    prior: PacePrior | None,
) -> Belief | None:
    """Run the filter over all points; ``gains[i]`` lies between point i and i + 1. None: the weights went below the floor."""
    reach = 1.0 - floor
    stage = shape.stage
    ratio = shape.ratio
    if min(point.y for point in points) < floor - 3.0 * noise or points[0].y <= floor:
        return None
    z = stage((points[0].y - floor) / reach)
    slope = reach * abs(ratio(z)[1])
    p_zz = min(noise / max(slope, 1e-9), 0.05 * max(1.0, z)) ** 2
    k = _first_pace(points, gains, shape, floor=floor, noise=noise) if gains else 0.0
    p_zk, p_kk, evidence = 0.0, 1.0, 0.0
    if prior is not None:
        total = p_kk + prior.var
        miss = prior.mean - k
        evidence -= 0.5 * (math.log(total) + miss * miss / total)
        k += p_kk / total * miss
        p_kk *= prior.var / total
    f2 = flicker * flicker
    w2, floor_noise = wander * wander, noise * noise
    passed, early = 0.0, SETTLING * sum(gains)
    for point, gain in zip(points[1:], gains, strict=True):
        move = math.exp(k) * gain
        after = z + move
        growth = w2 * min(1.5, math.log(after / z)) if z > 0.0 and after > z else 0.0
        if passed < early:
            growth += SETTLES * min(1.0, gain / early)
        passed += gain
        p_zz += move * (2.0 * p_zk + move * (p_kk + growth / 3.0 + f2))
        p_zk += move * (p_kk + growth / 2.0)
        p_kk += growth
        u, du = ratio(after)
        h = reach * du
        total = h * h * p_zz + floor_noise * point.spread * point.spread
        miss = point.y - floor - reach * u
        odd = miss * miss / total
        evidence -= 0.5 * (math.log(total) + (STUDENT + 1.0) * math.log1p(odd / STUDENT))
        if odd > 9.0:
            total *= odd / 9.0
        to_z, to_k = p_zz * h / total, p_zk * h / total
        z = after + to_z * miss
        if z < 1e-9:
            z = 1e-9
        k += to_k * miss
        p_kk -= to_k * h * p_zk
        p_zk -= to_z * h * p_zk
        p_zz -= to_z * h * p_zz
    return Belief(z, k, p_zz, p_zk, p_kk, evidence)


def _first_pace(points: Sequence[Point], gains: Sequence[float], shape: Shape, *, floor: float, noise: float) -> float:
    """A first guess of the log pace: from the start to the first loss that stands out of the noise."""
    reach = 1.0 - floor
    start = points[0].y
    whole = start - min(point.y for point in points)
    enough = max(6.0 * noise, 0.2 * whole)
    gathered, chosen = 0.0, (points[-1], sum(gains))
    for point, gain in zip(points[1:], gains, strict=True):
        gathered += gain
        if start - point.y >= enough:
            chosen = (point, gathered)
            break
    point, passed = chosen
    moved = shape.stage(min(1.0, max(1e-3, (point.y - floor) / reach))) - shape.stage(min(1.0, (start - floor) / reach))
    least = shape.stage(1.0 - min(0.5, noise / reach)) * 0.1
    return math.log(max(moved, least, 1e-6) / passed)
