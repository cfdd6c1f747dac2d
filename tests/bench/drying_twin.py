"""Batches of the twin's pieces: random sizes and meats, programs with step changes, weigh-in plans and noise."""

from __future__ import annotations

import math
import random

from dryward.science.pace import AirAt
from dryward_hardware.ports import Hung
from dryward_hardware.twin.moist_air import humidity_ratio, saturation_pa, vapour_pa
from dryward_hardware.twin.options import Meat
from dryward_hardware.twin.piece import PieceBody
from tests.bench.batches import HOUR, Batch, weighed

PROGRAMS = ((80, 65, 55), (80, 70), (75, 60), (70,), (65, 55), (60, 75), (13, 13), (14, 16))
STEPS = 400


def twin_batches(count: int, seed: int = 5) -> list[Batch]:
    """Draw ``count`` batches; the same seed gives the same batches."""
    chance = random.Random(seed)
    found: list[Batch] = []
    while len(found) < count:
        batch = _batch(chance)
        if batch is not None:
            found.append(batch)
    return found


def _batch(chance: random.Random) -> Batch | None:
    temperatures = chance.choice(PROGRAMS)
    cool = temperatures[0] < 30
    meat = Meat(
        water_share=chance.uniform(0.6, 0.78), diffusivity_m2_s=5.2e-10 * math.exp(chance.gauss(0.0, 0.6)),
        activation_j_mol=1000.0 * chance.uniform(25.0, 50.0), dry_share=chance.uniform(0.15, 0.6), half_activity_kg_kg=chance.uniform(0.08, 0.2),
    )  # fmt: skip
    pieces = [
        PieceBody(
            Hung(
                name=f"p{n}",
                green_g=math.exp(chance.gauss(6.5, 0.4)),
                thickness_mm=chance.choice((None, chance.uniform(20.0, 70.0))),
            ),
            meat,
        )
        for n in range(chance.randint(1, 5))
    ]
    span_s = chance.uniform(20, 60) * 24 * HOUR if cool else chance.uniform(24, 110) * HOUR
    cuts = sorted(chance.uniform(0.08, 0.7) for _ in temperatures[1:])
    room_pa, film, exchange_kg_s = (
        chance.uniform(700.0, 1600.0),
        chance.uniform(10.0, 40.0),
        chance.uniform(0.002, 0.006),
    )
    curves: list[list[float]] = [[1.0] for _ in pieces]
    airs: list[AirAt] = []
    ratio = humidity_ratio(room_pa)
    for step in range(STEPS):
        t = step * span_s / STEPS
        place = sum(t >= cut * span_s for cut in cuts)
        air_c = float(temperatures[place])
        if cool:  # a cabinet holds its humidity
            ratio = humidity_ratio((0.85, 0.75)[place] * saturation_pa(air_c))
        rh_pct = min(97.0, 100.0 * vapour_pa(ratio) / saturation_pa(air_c))
        airs.append(AirAt(t_s=t, air_c=air_c, rh_pct=rh_pct))
        given = sum(_dry(piece, span_s / STEPS, air_c=air_c, ratio=ratio, film=film) for piece in pieces)
        if not cool:
            ratio = humidity_ratio(room_pa) + given / (span_s / STEPS) / exchange_kg_s
        for curve, piece in zip(curves, pieces, strict=True):
            curve.append(piece.mass_g / piece.green_g)
    changes = [
        air for before, air in zip([None, *airs], airs, strict=False) if before is None or before.air_c != air.air_c
    ]
    programmed = airs if not cool else changes
    return weighed(
        chance,
        "twin",
        curves,
        step_s=span_s / STEPS,
        greens=[piece.green_g for piece in pieces],
        airs=programmed,
        noise=10.0 ** chance.uniform(-4.0, -2.7),
    )


def _dry(piece: PieceBody, span_s: float, *, air_c: float, ratio: float, film: float) -> float:
    """Dry one piece for ``span_s`` in air that stays; returns the kg of water given."""
    given, parts = 0.0, max(1, math.ceil(span_s / 600.0))
    dt_s = span_s / parts
    for _ in range(parts):
        piece.ready(dt_s, film_w_m2k=film, lewis_factor=1.0, air_c=air_c, ratio=ratio)
        kg = (piece.give_at_zero - piece.give_fall * ratio) * dt_s
        piece.settle(film * piece.shape.area_m2 * (air_c - piece.surface_ahead_c) * dt_s, kg)
        given += kg
    return given
