"""Batches of drying pieces on which forecasts are judged: real ones (leaves, rice), and what every batch tells the forecaster."""

from __future__ import annotations

import csv
import math
import random
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from dryward.science.pace import AirAt

DATA = Path(__file__).parents[1] / "data"
HOUR = 3600.0
Log = list[tuple[float, float]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Batch:
    """Pieces drying together. ``logs``: (t_s, weight_g) of each; ``finishes``: when it reached its target, None where it never did."""

    kind: str
    logs: dict[str, Log]
    target_pct: float
    finishes: dict[str, float | None]
    airs: Sequence[AirAt] = ()
    tells_air: bool = False
    tells_rh: bool = False
    tells_plan: bool = False

    def had(self, log: Log) -> list[AirAt]:
        """The air that is written beside each weighing."""
        if not self.tells_air:
            return []
        return [
            AirAt(t_s=t, air_c=air.air_c, rh_pct=air.rh_pct if self.tells_rh else None)
            for t, air in ((t, at(self.airs, t)) for t, _ in log)
        ]

    def plan(self, now_s: float) -> list[AirAt]:
        """The air to come, as the program has it."""
        if not self.tells_plan:
            return []
        rows = [at(self.airs, now_s), *(air for air in self.airs if air.t_s > now_s)]
        return [
            AirAt(t_s=max(air.t_s, now_s), air_c=air.air_c, rh_pct=air.rh_pct if self.tells_rh else None)
            for air in rows
        ]


def at(airs: Sequence[AirAt], t_s: float) -> AirAt:
    """The conditions that hold at ``t_s``."""
    return next((air for air in reversed(airs) if air.t_s <= t_s + 1e-9), airs[0])


def crossing(log: Log, target_g: float) -> float | None:
    """When a weight first fell to its target, on straight lines between weighings."""
    for (before_s, before), (after_s, after) in pairwise(log):
        if after <= target_g < before:
            return before_s + (before - target_g) / (before - after) * (after_s - before_s)
    return None


def recorded(kind: str, logs: dict[str, Log], target_pct: float, airs: Sequence[AirAt] = ()) -> Batch:
    """A batch from a real record: its finishes are read off the record itself."""
    finishes = {name: crossing(log, log[0][1] * (1.0 - target_pct / 100.0)) for name, log in logs.items()}
    return Batch(
        kind=kind,
        logs=logs,
        target_pct=target_pct,
        finishes=finishes,
        airs=airs,
        tells_air=bool(airs),
        tells_rh=bool(airs),
    )


def leaves(target_pct: float = 15.0) -> list[Batch]:
    """Twelve kohlrabi leaves drying in a room (see tests/data/LICENCE.md)."""
    logs: dict[str, Log] = {}
    with (DATA / "leaf_weighings.csv").open() as file:
        for row in csv.DictReader(file):
            logs.setdefault(row["sample"], []).append((float(row["date.and.time"]), float(row["fresh.weight"])))
    start = min(log[0][0] for log in logs.values())
    with (DATA / "leaf_room.csv").open() as file:
        room = [
            AirAt(
                t_s=float(row["date.and.time"]) - start, air_c=float(row["temperature"]), rh_pct=float(row["humidity"])
            )
            for row in csv.DictReader(file)
        ]
    shifted = {name: [(t - start, weight) for t, weight in log] for name, log in logs.items()}
    return [recorded("leaves", shifted, target_pct, [air for air in room if -900.0 <= air.t_s <= 12 * HOUR])]


RICE_DRY_G, RICE_WATER_G = 70.0, 30.0
"""Assumed, since the record gives moisture ratios only: paddy at 30 % moisture, wet basis."""


def rice(shares: Sequence[float] = (0.3, 0.5)) -> list[Batch]:
    """Three thin layers of paddy (see tests/data/LICENCE.md), to a share of their water."""
    logs: dict[str, Log] = {}
    with (DATA / "drying_curves_rice.csv").open() as file:
        for row in csv.DictReader(file):
            logs.setdefault(row["condition_id"], []).append(
                (float(row["t"]), RICE_DRY_G + RICE_WATER_G * float(row["MR"]))
            )
    return [recorded("rice", logs, 100.0 * share * RICE_WATER_G / (RICE_DRY_G + RICE_WATER_G)) for share in shares]


def weigh_in_plan(chance: random.Random, end_s: float) -> list[float]:
    """When somebody weighs: by the clock, now and then, by day only, or a scale that logs by itself."""
    way = chance.choice(("clock", "now and then", "by day", "log"))
    count = 400 if way == "log" else chance.randint(12, 60)
    times = [0.0]
    while times[-1] < end_s:
        step = 1.0 if way in ("clock", "log") else chance.choice((0.3, 0.6, 1.0, 1.6))
        if way == "by day" and len(times) % 7 == 6:
            step = 4.0
        times.append(times[-1] + step * end_s / count)
    return times[:-1]


def weighed(
    chance: random.Random,
    kind: str,
    curves: Sequence[Sequence[float]],
    *,
    step_s: float,
    greens: Sequence[float],
    airs: Sequence[AirAt],
    noise: float,
) -> Batch | None:
    """Weigh simulated pieces: ``curves`` are shares of the green weight, ``step_s`` apart. None when a target would come too soon."""
    reach = min(curve[0] - curve[-1] for curve in curves)
    loss = reach * chance.uniform(0.35, 0.93)
    plan = weigh_in_plan(chance, (len(curves[0]) - 1) * step_s)
    finishes: dict[str, float | None] = {}
    logs: dict[str, Log] = {}
    for number, (curve, green) in enumerate(zip(curves, greens, strict=True), 1):
        exact = [(step * step_s, y) for step, y in enumerate(curve)]
        finish = crossing(exact, 1.0 - loss)
        if finish is None or finish < 8.0 * step_s:
            return None
        digit = 10.0 ** math.floor(math.log10(green * noise))
        log = []
        for t in plan:
            left = min(int(t / step_s), len(curve) - 2)
            y = curve[left] + (curve[left + 1] - curve[left]) * (t / step_s - left)
            log.append((t, round((y + noise * chance.gauss(0.0, 1.0)) * green / digit) * digit))
        finishes[f"p{number}"], logs[f"p{number}"] = finish, log
    tells_air = chance.random() < 0.75
    return Batch(
        kind=kind, logs=logs, target_pct=100.0 * loss, finishes=finishes, airs=airs,
        tells_air=tells_air, tells_rh=tells_air and chance.random() < 0.6, tells_plan=tells_air and chance.random() < 0.85,
    )  # fmt: skip
