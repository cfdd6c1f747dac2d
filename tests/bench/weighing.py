"""The figures of weighing on the simulated dryer: ``python -m tests.bench.weighing``, or with a part's name for that part.

``rack``: one scale for everything, each piece weighed at the start and once later: how far the estimated losses are off.
``lifts``: pieces lifted off and hung back at odd moments: are they named rightly, and asked about where two are alike.
``cells``: a cell per piece, with noise, fan, knocks, creep and drift: is a piece called done too early, or how late.
``step``: what it costs.
"""

from __future__ import annotations

import random
import statistics
import sys
import time
from collections import Counter
from dataclasses import dataclass, field, replace

from dryward.core.chamber import Scale
from dryward.core.inputs import Reading
from dryward.core.layout import lay_out
from dryward.core.program import Piece
from dryward.core.scales import take_readings
from dryward.core.weighing import CERTAIN
from dryward_hardware.twin.options import Sensing
from tests.core.bench_chamber import AIR, chamber
from tests.core.weigh_scene import CELL_C, HOUR_S, POLL_S, Scene, air_plan, some_pieces

ROOM_C = 22.0  # of the twin
MEDIAN_SPREAD = 0.536
"""Standard deviation of the median of five normal values, each of 1: the drivers take five counts every 5 s (drivers/cell.py), and
shaking that is faster than their rate makes them independent. Found by drawing a million of them."""
CLOSE = 3.0
"""Two pieces are closer than the noise when their weights differ by less than so many standard deviations of what is known of them."""


@dataclass
class Errors:
    """Errors of the estimated losses, percentage points of the green weight, and whether the 90 % interval held."""

    all_pp: list[float] = field(default_factory=list)
    worst_pp: list[float] = field(default_factory=list)
    held: list[bool] = field(default_factory=list)
    early: int = 0
    late_pp: list[float] = field(default_factory=list)
    asked: int = 0
    later_pct: list[float] = field(default_factory=list)


def rack_batch(seed: int, *, meat_spread: float, errors: Errors, when_asked: bool = True) -> None:
    """One batch to the end: each piece weighed at the start and once more, when the rack asks or between 10 and 20 % of loss."""
    chance = random.Random(seed)
    pieces = some_pieces(chance, chance.randint(3, 7))
    scene = Scene(pieces, seed=seed, plan=air_plan(chance), meat_spread=meat_spread)
    later = chance.uniform(10.0, 20.0)
    scene.run(600.0)
    weigh_all(scene)
    worst = dict.fromkeys([p.name for p in pieces], 0.0)
    over: set[str] = set()
    weighed = False
    while len(over) < len(pieces) and scene.now < 150.0 * HOUR_S:
        scene.run(1800.0)
        truth = {p.name: p for p in scene.twin.truth().pieces}
        mean_pct = statistics.mean(p.loss_pct for p in truth.values())
        due = any(e.kind == "rack-unsure" for e in scene.events) if when_asked else mean_pct >= later
        if not weighed and due:
            errors.later_pct.append(mean_pct)
            weigh_all(scene)
            weighed = True
            continue
        for state in [s for s in scene.states if s.status != "pulled" and s.weight_g is not None]:
            name = state.piece.name
            wrong_pp = (state.loss_pct or 0.0) - truth[name].loss_pct
            if truth[name].loss_pct < state.piece.target_loss_pct:
                errors.all_pp.append(wrong_pp)
                errors.held.append(abs(wrong_pp) <= CERTAIN * 100.0 * state.sigma_g / state.piece.green_g)
                worst[name] = max(worst[name], abs(wrong_pp))
            else:
                over.add(name)
            if state.status == "done":
                errors.early += truth[name].loss_pct < state.piece.target_loss_pct
                errors.late_pp.append(truth[name].loss_pct - state.piece.target_loss_pct)
                over.add(name)
                scene.pull(name)
    errors.worst_pp.extend(worst.values())
    errors.asked += sum(e.kind == "weigh-wanted" for e in scene.events)


def weigh_all(scene: Scene) -> None:
    """Lift each piece off, weigh it in the kitchen, hang it back."""
    for state in scene.states:
        if state.status != "pulled":
            scene.lift(state.piece.name, scene.chance.uniform(70.0, 200.0), by_hand=True)


def rack(batches: int = 24) -> None:
    print("One scale for the rack, each piece weighed at the start and once later; until each piece's end:")
    print(
        f"  {'pieces of a batch':34} {'weighed at':>10} {'within 1.5 pp':>13} {'pieces always':>13} {'rms pp':>7} {'90 % held':>9} {'done early':>10} {'asked':>6}"
    )
    for words, spread in (("alike", 0.0), ("diffusivity differs by 15 %", 0.15), ("diffusivity differs by 30 %", 0.3)):
        for when_asked in (True, False):
            errors = Errors()
            for seed in range(batches):
                rack_batch(seed, meat_spread=spread, errors=errors, when_asked=when_asked)
            within = statistics.mean(abs(e) <= 1.5 for e in errors.all_pp)
            always = statistics.mean(w <= 1.5 for w in errors.worst_pp)
            rms = statistics.mean(e * e for e in errors.all_pp) ** 0.5
            held = statistics.mean(errors.held)
            when = f"{min(errors.later_pct):.0f}-{max(errors.later_pct):.0f} %"
            print(
                f"  {words + (', as asked' if when_asked else ', by chance'):40} {when:>8} {100 * within:9.1f} % {100 * always:11.1f} % {rms:7.2f} {100 * held:7.0f} % {errors.early:10d} {errors.asked:6d}"
                f"   (goal 95 %; {len(errors.worst_pp)} pieces)",
                flush=True,
            )


def lifts(count: int = 500) -> None:
    """Half an hour to five hours between lifts, each for a minute to four; a later weighing of all after the fifth."""
    found: Counter[tuple[bool, str]] = Counter()
    seed = 0
    while sum(found.values()) < count:
        chance = random.Random(seed)
        scene = Scene(some_pieces(chance, chance.randint(3, 7)), seed=seed, plan=air_plan(chance), meat_spread=0.15)
        scene.run(600.0)
        weigh_all(scene)
        for k in range(25):
            scene.run(chance.uniform(0.5, 5.0) * HOUR_S)
            if k == 5:
                weigh_all(scene)
            found[one_lift(scene, chance.choice(scene.states).piece.name, chance.uniform(70.0, 240.0))] += 1
        seed += 1
    print(f"Lifted off a rack and hung back, {sum(found.values())} times:")
    for close, words in ((False, "weights apart"), (True, f"another within {CLOSE:g} sigma")):
        part = {what: n for (c, what), n in found.items() if c is close}
        n = sum(part.values())
        print(
            f"  {words:24} {n:4d}: "
            + ", ".join(f"{what} {k} ({100.0 * k / n:.1f} %)" for what, k in sorted(part.items()))
        )
    print("  (goal: named rightly >= 98 % where the weights are apart, asked where they are not, never guessed)")


def one_lift(scene: Scene, name: str, seconds: float) -> tuple[bool, str]:
    """Lift a piece; return whether another is as heavy, as far as is known, and what came of it."""
    mine, true_g = scene.state(name), scene.true_g(name)
    close = any(
        abs(scene.true_g(s.piece.name) - true_g) <= CLOSE * (s.sigma_g**2 + mine.sigma_g**2) ** 0.5
        for s in scene.states
        if s.piece.name != name
    )
    said = scene.lift(name, seconds)
    named = [e.subject for e in said if e.kind == "lifted"]
    if named:
        return close, "named rightly" if named == [name] else "named wrongly"
    return close, "asked" if any(e.kind == "which-lifted" for e in said) else "not seen"


def twins(count: int = 60) -> None:
    """Two pieces of a batch weigh the same to a gram."""
    found: Counter[str] = Counter()
    for seed in range(count // 10):
        chance = random.Random(seed)
        pieces = [*some_pieces(chance, 2), Piece(name="a", green_g=750.0), Piece(name="b", green_g=750.5)]
        scene = Scene(pieces, seed=seed)
        scene.run(600.0)
        weigh_all(scene)
        for _ in range(10):
            scene.run(chance.uniform(0.5, 3.0) * HOUR_S)
            found[one_lift(scene, chance.choice("ab"), chance.uniform(70.0, 240.0))[1]] += 1
    print(
        f"  two pieces alike to a gram, {sum(found.values())} lifts of one of them: "
        + ", ".join(f"{w} {n}" for w, n in sorted(found.items()))
    )


@dataclass
class Ends:
    """When pieces on cells of their own were called done. ``over_g``: truly above the target then."""

    late_min: list[float] = field(default_factory=list)
    over_g: list[float] = field(default_factory=list)
    said: Counter[str] = field(default_factory=Counter)


def cells_batch(
    seed: int, ends: Ends, *, sensing: Sensing, known_drift: bool, count: int = 4, heaviest_g: float = 1200.0
) -> None:
    """One batch with doors opened, the fan stopped, pieces lifted at odd moments, until all are done."""
    chance = random.Random(seed)
    pieces = some_pieces(chance, count, hooks=True, heaviest_g=heaviest_g)
    scales = [Scale(name=p.scale or "", device="twin", max_g=5000.0) for p in pieces]
    scene = Scene(
        pieces, seed=seed, sensing=sensing, scales=scales, meat_spread=0.1, known_drift=known_drift,
        poll_s=min(POLL_S, sensing.weight_s),
    )  # fmt: skip
    if not known_drift:  # the owner has read the cell's temperature beside the tare, but knows no drift
        scene.scales = [replace(scale, tare_c=ROOM_C) for scale in scene.scales]
        scene.layout = lay_out(chamber(sensors=(AIR, CELL_C), scales=scene.scales))
    crossed: dict[str, float] = {}
    waiting = {p.name for p in pieces}
    called: set[str] = set()
    disturbed = chance.expovariate(0.25) * HOUR_S
    while waiting and scene.now < 150.0 * HOUR_S:
        scene.run(60.0)
        for piece in scene.twin.truth().pieces:
            if piece.loss_pct >= 35.0:
                crossed.setdefault(piece.name, scene.now)
        for state in scene.states:
            name = state.piece.name
            if name in waiting and state.status == "done" and name not in called:
                called.add(name)
                ends.over_g.append(scene.true_g(name) - state.piece.target_g)
            if name in waiting and state.done_s is not None and name in crossed:
                ends.late_min.append((state.done_s - crossed[name]) / 60.0)
                waiting.discard(name)
        if scene.now > disturbed:
            disturbed = scene.now + chance.expovariate(0.25) * HOUR_S
            disturb(scene, chance)
    ends.said.update(e.kind for e in scene.events)


def disturb(scene: Scene, chance: random.Random) -> None:
    kind = chance.random()
    if kind < 0.5:
        scene.open()
        scene.run(chance.uniform(15.0, 300.0))
        scene.shut()
    elif kind < 0.7:
        scene.fan = False
        scene.run(chance.uniform(60.0, 1200.0))
        scene.fan = True
    else:
        scene.lift(chance.choice(scene.states).piece.name, chance.uniform(20.0, 300.0))


def cells(batches: int = 12) -> None:
    print("A cell per piece, 80 then 70 degC, 35 %; doors, fan stops and lifts every few hours:")
    print(f"  {'':44} {'done early by more than':>24} {'late, min':>22}")
    print(f"  {'':44} {'0.1 g':>12} {'0.05 %':>11} {'median':>10} {'most':>11}")
    usual = Sensing()
    for words, sensing, known in (
        ("drift set as its option says", usual, True),
        ("drift not corrected (0.7 g in 5 K at most)", usual, False),
        ("fan shakes each reading by 2 g, one in 30 s", replace(usual, weight_fan_g=2.0), True),
        ("the same, one in 5 s", replace(usual, weight_fan_g=2.0, weight_s=5.0), True),
        (
            "fan shakes each count by 2 g, as drivers read",
            replace(usual, weight_fan_g=2.0 * MEDIAN_SPREAD, weight_s=5.0),
            True,
        ),
    ):
        ends = Ends()
        for seed in range(batches):
            cells_batch(seed, ends, sensing=sensing, known_drift=known)
        false_g, false_share = sum(g > 0.1 for g in ends.over_g), sum(g > 0.0005 * 600.0 for g in ends.over_g)
        print(
            f"  {words:44} {false_g:5d} of {len(ends.over_g):3d} {false_share:4d} of {len(ends.over_g):3d} {statistics.median(ends.late_min):10.1f}"
            f" {max(ends.late_min):11.1f}   told beside done: {dict(ends.said)}"
        )
    print("  (goal: none early, at most 15 min late)")


def step() -> None:
    """Time of the weighing part of a tick, with and without a new weight."""
    chance = random.Random(1)
    scene = Scene(some_pieces(chance, 4), seed=1)
    scene.run(2.0 * HOUR_S)
    nothing = (Reading("air", 80.0, scene.now),)
    print(f"Weighing's part of a tick: no new weight {timed(scene, nothing):.1f} us; ", end="")
    plain, estimated = [], []
    for k in range(400):
        at_s = scene.now + 30.0 * (k + 1)
        rack = scene.racks[0]
        assert rack.cell is not None
        reading = (Reading("rack", rack.cell.level_g - 0.1, at_s),)
        began = time.perf_counter()
        after = take_readings(scene.layout, scene.states, scene.racks, reading, door_open=False, cell_c=None, now=at_s)
        (estimated if after.racks[0].shared is not rack.shared else plain).append((time.perf_counter() - began) * 1e6)
        scene.states, scene.racks = after.pieces, after.racks
    print(
        f"a sample of a rack with four pieces {statistics.median(plain):.0f} us, with new estimates (every 5 min) {statistics.median(estimated):.0f} us"
    )


def timed(scene: Scene, readings: tuple[Reading, ...]) -> float:
    began = time.perf_counter()
    for _ in range(2000):
        take_readings(scene.layout, scene.states, scene.racks, readings, door_open=False, cell_c=None, now=scene.now)
    return (time.perf_counter() - began) * 1e6 / 2000.0


PARTS = {"rack": rack, "lifts": lifts, "twins": twins, "cells": cells, "step": step}


def main() -> None:
    for name in sys.argv[1:] or PARTS:
        PARTS[name]()


if __name__ == "__main__":
    main()
