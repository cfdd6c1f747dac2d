"""Healthy hours and the trips in them: ``python -m tests.faults.false_trips --hours 10000``. There must be none.

One second a tick, all reference plants and the dryer twin, a new story for every seed (see ``healthy``).
"""

from __future__ import annotations

import argparse
import os
import time
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass

from tests.faults.healthy import Lived, live, story
from tests.faults.stand import MODELS, Model

STORY_H = 10.0


@dataclass(frozen=True, slots=True)
class Count:
    """What a number of stories came to."""

    hours: float
    trips: tuple[str, ...]
    doors: int
    steps: int


def tell(job: tuple[Model, int]) -> tuple[Model, int, Lived]:
    """Live one story."""
    model, seed = job
    return model, seed, live(story(model, seed, STORY_H))


def count(hours: float, *, first_seed: int = 1, models: Sequence[Model] = MODELS) -> Count:
    """Live so many hours, shared evenly between the models, on every processor there is."""
    each = -(-int(hours) // int(STORY_H * len(models)))
    jobs = [(model, first_seed + n) for n in range(each) for model in models]
    lived = 0.0
    doors = steps = 0
    trips: list[str] = []
    with ProcessPoolExecutor(os.cpu_count()) as workers:
        for model, seed, one in workers.map(tell, jobs):
            lived, doors, steps = lived + one.hours, doors + one.doors, steps + one.steps
            trips += [f"{model}, seed {seed}: {trip}" for trip in one.trips]
    return Count(lived, tuple(trips), doors, steps)


def main() -> int:
    parser = argparse.ArgumentParser(description="Count false trips in healthy hours.")
    parser.add_argument("--hours", type=float, default=10_000.0)
    parser.add_argument("--first-seed", type=int, default=1)
    asked = parser.parse_args()
    began = time.monotonic()
    found = count(asked.hours, first_seed=asked.first_seed)
    for trip in found.trips:
        print("FALSE TRIP", trip)
    print(
        f"{found.hours:.0f} healthy hours on {', '.join(MODELS)}: {found.doors} doors opened, {found.steps} steps begun, "
        f"{len(found.trips)} false trips ({time.monotonic() - began:.0f} s)"
    )
    return 1 if found.trips else 0


if __name__ == "__main__":
    raise SystemExit(main())
