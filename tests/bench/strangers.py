"""Drying batches made by models that the forecaster does not know, to see whether it is honest on foods it never met.

Six kinds: diffusion with a surface that must give its water away (meat, fruit), evaporation held back by sorption (grain), empirical
thin-layer curves, leaves that close their pores, drying in the weather, and a rate that simply wanders. Programs, sizes, noise,
weigh-in plans and targets are drawn by chance from a fixed seed. All invented.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Sequence
from itertools import pairwise

from dryward.science import air as moist
from dryward.science.pace import AirAt
from tests.bench.batches import HOUR, Batch, at, weighed

STEPS = 300
Made = tuple[list[list[float]], float, list[AirAt]]
"""Curves as shares of the green weight, seconds between their points, the air."""


def strangers(count: int, seed: int = 1) -> list[Batch]:
    """Draw ``count`` batches, one kind after the other; the same seed gives the same batches."""
    chance = random.Random(seed)
    makers: tuple[Callable[[random.Random], Made], ...] = (diffusing, sorbing, empirical, leaf, weather, wandering)
    found: list[Batch] = []
    while len(found) < count:
        maker = makers[len(found) % len(makers)]
        curves, step_s, airs = maker(chance)
        greens = [10.0 ** chance.uniform(1.0, 3.3) for _ in curves]
        batch = weighed(
            chance,
            maker.__name__,
            curves,
            step_s=step_s,
            greens=greens,
            airs=airs,
            noise=10.0 ** chance.uniform(-4.3, -2.5),
        )
        if batch is not None:
            found.append(batch)
    return found


def program(chance: random.Random, span_s: float, *, hot: bool) -> list[AirAt]:
    """Steady, stepping down, stepping up, or a cool cabinet that gets drier."""
    if hot:
        temperatures = chance.choice(((80, 65, 55), (80, 70), (60,), (70,), (55, 65), (80, 65, 55), (65, 75, 60)))
        room_pa = chance.uniform(800.0, 1800.0)
        humid = [100.0 * room_pa * chance.uniform(1.0, 2.5) / moist.saturation_pa(c) for c in temperatures]
    else:
        steps = chance.choice((((13, 85), (13, 75)), ((14, 78),), ((12, 88), (14, 80), (15, 72)), ((20, 60),)))
        temperatures = tuple(c for c, _ in steps)
        humid = [h + chance.uniform(-3, 3) for _, h in steps]
    cuts = sorted(chance.uniform(0.1, 0.8) for _ in temperatures[1:])
    return [
        AirAt(t_s=span_s * cut, air_c=float(c), rh_pct=min(95.0, h))
        for cut, c, h in zip((0.0, *cuts), temperatures, humid, strict=True)
    ]


def diffusing(chance: random.Random) -> Made:
    """Layers of a slab, cylinder or ball; diffusivity by Arrhenius and moisture; the surface held back by sorption and air."""
    hot = chance.random() < 0.65
    span = chance.uniform(20, 120) * HOUR if hot else chance.uniform(15, 60) * 24 * HOUR
    airs = program(chance, span, hot=hot)
    wet, energy, bend = chance.uniform(1.5, 6.0), chance.uniform(18.0, 48.0), chance.uniform(0.0, 0.5)
    power, biot = chance.choice((0, 1, 2)), 10 ** chance.uniform(-0.5, 1.5)
    pace = 10 ** chance.uniform(-0.5, 0.4)
    curves = []
    for _ in range(chance.randint(1, 5)):
        curves.append(
            _layers(
                airs,
                span,
                pace=pace * math.exp(chance.gauss(0.0, 0.3)),
                wet=wet * math.exp(chance.gauss(0.0, 0.03)),
                energy=energy,
                bend=bend,
                power=power,
                biot=biot,
            )
        )
    return curves, span / STEPS, airs


def _layers(
    airs: Sequence[AirAt],
    span: float,
    *,
    pace: float,
    wet: float,
    energy: float,
    bend: float,
    power: int,
    biot: float,
    count: int = 16,
) -> list[float]:
    """Explicit finite volumes on a radius of 1; ``pace``: Fourier number of the whole span at the first temperature."""
    first = airs[0].air_c + 273.15
    edges = [i / count for i in range(count + 1)]
    volumes = [(b ** (power + 1) - a ** (power + 1)) / (power + 1) for a, b in pairwise(edges)]
    whole = sum(volumes)
    x = [wet] * count
    curve = [1.0]
    for step in range(STEPS):
        air = at(airs, step * span / STEPS)
        warm = math.exp(-energy / 8.314e-3 * (1.0 / (air.air_c + 273.15) - 1.0 / first))
        limit = 0.35 / count**2
        total = pace / STEPS * warm
        inner = max(1, math.ceil(total / limit))
        rest = oswin(air.rh_pct)
        drive = moist.evaporation_g_per_m2_h(air_c=air.air_c, rh_pct=air.rh_pct) / moist.evaporation_g_per_m2_h(
            air_c=airs[0].air_c, rh_pct=airs[0].rh_pct
        )
        for _ in range(inner):
            d = [math.exp(-bend * (1.0 - value / wet)) for value in x]
            flow = [0.0] + [
                edges[i] ** power * 0.5 * (d[i - 1] + d[i]) * (x[i - 1] - x[i]) * count for i in range(1, count)
            ]
            wetness = min(1.0, max(0.0, (x[-1] - rest) / (0.35 * wet)))
            surface = min(biot * wet * 0.5 * drive / warm * wetness, max(0.0, (x[-1] - rest) * 2.0 * count * d[-1]))
            flow.append(surface)
            x = [value + total / inner * (flow[i] - flow[i + 1]) / volumes[i] for i, value in enumerate(x)]
        curve.append((1.0 + sum(v * value for v, value in zip(volumes, x, strict=True)) / whole) / (1.0 + wet))
    return curve


def oswin(rh_pct: float) -> float:
    """Moisture per dry matter that balances this humidity (Oswin 1946; common food figures, no source)."""
    share = min(0.97, max(0.01, rh_pct / 100.0))
    return 0.12 * (share / (1.0 - share)) ** 0.5


def sorbing(chance: random.Random) -> Made:
    """Well mixed inside; the vapour pressure at the surface falls as the piece dries: grain, thin fruit, a powder."""
    hot = chance.random() < 0.7
    span = chance.uniform(3, 30) * HOUR
    airs = program(chance, span, hot=hot)
    wet, hold = chance.uniform(0.25, 4.0), chance.uniform(0.4, 1.0)
    curves = []
    pace = 10 ** chance.uniform(0.0, 0.8)
    for _ in range(chance.randint(1, 5)):
        own = pace * math.exp(chance.gauss(0.0, 0.25))
        x, curve = wet, [1.0]
        first = moist.evaporation_g_per_m2_h(air_c=airs[0].air_c, rh_pct=airs[0].rh_pct)
        for step in range(STEPS):
            air = at(airs, step * span / STEPS)
            drive = moist.evaporation_g_per_m2_h(air_c=air.air_c, rh_pct=air.rh_pct) / first
            for _ in range(10):
                rest = oswin(air.rh_pct)
                activity = 1.0 / (1.0 + (0.12 / max(x, 1e-6)) ** 2)
                outside = air.rh_pct / 100.0
                push = max(0.0, (activity - outside) / (1.0 - outside)) ** hold
                x = max(rest, x - own * wet * drive * push * (x / wet) ** 0.3 / (10 * STEPS))
            curve.append((1.0 + x) / (1.0 + wet))
        curves.append(curve)
    return curves, span / STEPS, airs


def empirical(chance: random.Random) -> Made:
    """Thin-layer curves from the literature's families, their clock run by the air's temperature."""
    span = chance.uniform(2, 60) * HOUR
    airs = program(chance, span, hot=True)
    kind = chance.choice(("midilli", "logarithmic", "two-term", "weibull"))
    water, energy = chance.uniform(0.2, 0.92), chance.uniform(12.0, 45.0)
    n, floor, share, slow = (
        chance.uniform(0.55, 1.5),
        chance.uniform(0.0, 0.3),
        chance.uniform(0.2, 0.7),
        chance.uniform(0.05, 0.4),
    )
    curves = []
    pace = 10 ** chance.uniform(0.0, 0.7)
    for _ in range(chance.randint(1, 5)):
        own = pace * math.exp(chance.gauss(0.0, 0.25))
        z, curve = 0.0, [1.0]
        for step in range(STEPS):
            air = at(airs, step * span / STEPS)
            z += (
                own
                / STEPS
                * math.exp(-energy / 8.314e-3 * (1.0 / (air.air_c + 273.15) - 1.0 / (airs[0].air_c + 273.15)))
            )
            ratio = {
                "midilli": math.exp(-(z**n)) - 0.01 * z,
                "logarithmic": floor + (1.0 - floor) * math.exp(-z),
                "two-term": share * math.exp(-2.0 * z) + (1.0 - share) * math.exp(-2.0 * slow * z),
                "weibull": math.exp(-(z**n)),
            }[kind]
            curve.append(1.0 - water * (1.0 - ratio))
        curves.append(curve)
    return curves, span / STEPS, airs


def leaf(chance: random.Random) -> Made:
    """Fast through open pores, which close at some water content, then slowly through the skin; a plateau may come first."""
    span = chance.uniform(6, 14) * HOUR
    warm, humid = chance.uniform(17, 28), chance.uniform(35, 65)
    airs = [AirAt(t_s=0.0, air_c=warm, rh_pct=humid)]
    close, width, leak = chance.uniform(0.75, 0.9), chance.uniform(0.015, 0.06), chance.uniform(0.05, 0.3)
    opening = chance.choice((0.0, 0.0, 0.1 * span))
    curves = []
    for _ in range(chance.randint(2, 6)):
        pace, own = chance.uniform(0.6, 1.8), close + chance.gauss(0.0, 0.02)
        y, curve = 1.0, [1.0]
        for step in range(STEPS):
            t = step * span / STEPS
            pores = (
                1.0 / (1.0 + math.exp(-(y - own) / width)) * (1.0 - 0.75 * math.exp(-t / opening) if opening else 1.0)
            )
            y -= pace / STEPS * (leak + pores) * max(0.0, y - 0.1) / 0.9
            curve.append(y)
        curves.append(curve)
    return curves, span / STEPS, airs


def weather(chance: random.Random) -> Made:
    """Fruit on a tray outdoors: the rate follows the day, the plan is a forecast of temperature and humidity."""
    span = chance.uniform(2, 6) * 24 * HOUR
    mean, swing = chance.uniform(18, 30), chance.uniform(3, 9)
    airs = []
    for hour in range(int(span / HOUR) + 2):
        wave = math.cos(2 * math.pi * (hour - 15) / 24)
        airs.append(
            AirAt(
                t_s=hour * HOUR, air_c=mean + swing * wave, rh_pct=min(95.0, max(15.0, 50.0 - 4.0 * swing * wave / 1.5))
            )
        )
    wet, m = chance.uniform(2.0, 6.0), chance.uniform(0.7, 1.6)
    curves, pace = [], 10 ** chance.uniform(0.1, 0.6)
    first = moist.evaporation_g_per_m2_h(air_c=mean, rh_pct=50.0)
    for _ in range(chance.randint(1, 4)):
        own = pace * math.exp(chance.gauss(0.0, 0.25))
        x, curve = wet, [1.0]
        for step in range(STEPS):
            air = at(airs, step * span / STEPS)
            drive = moist.evaporation_g_per_m2_h(air_c=air.air_c, rh_pct=air.rh_pct) / first
            rest = oswin(air.rh_pct)
            x -= own * drive / STEPS * wet * (max(0.0, x - rest) / wet) ** m
            curve.append((1.0 + x) / (1.0 + wet))
        curves.append(curve)
    return curves, span / STEPS, airs


def wandering(chance: random.Random) -> Made:
    """A falling rate that nobody can explain fully: it wanders about its trend, shared in part by the pieces."""
    span = chance.uniform(10, 100) * HOUR
    airs = program(chance, span, hot=True)
    energy, m, floor = chance.uniform(10.0, 40.0), chance.uniform(0.3, 2.0), chance.uniform(0.1, 0.6)
    pace, spread = 10 ** chance.uniform(0.0, 0.6), chance.uniform(0.05, 0.3)
    count = chance.randint(1, 5)
    common, curves = 0.0, [[1.0] for _ in range(count)]
    own = [math.log(pace) + chance.gauss(0.0, 0.25) for _ in range(count)]
    for step in range(STEPS):
        air = at(airs, step * span / STEPS)
        common += spread * chance.gauss(0.0, 1.0) * 0.08
        warm = -energy / 8.314e-3 * (1.0 / (air.air_c + 273.15) - 1.0 / (airs[0].air_c + 273.15))
        for index, curve in enumerate(curves):
            own[index] += spread * chance.gauss(0.0, 1.0) * 0.06
            u = max(1e-6, (curve[-1] - floor) / (1.0 - floor))
            curve.append(curve[-1] - (1.0 - floor) / STEPS * math.exp(own[index] + common + warm) * u**m)
    return curves, span / STEPS, airs
