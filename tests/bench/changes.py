"""Does the watch on the chamber's answer stay silent in healthy runs and speak in failing ones?

``python -m tests.bench.changes [RUNS]`` (200 unless told): so many invented healthy runs of a day and a half on the
simulated dryer, no two alike in load, setpoints, weather, mains and door; then a tenth as many each with the heater at
60 % and the fan at half speed from the middle on.
"""

from __future__ import annotations

import random
import sys

from dryward.core.answer import Answer
from dryward.core.chamber import Control, Plant
from dryward.core.control import Air, ControlState, Demand, decide
from dryward_hardware.ports import Hung
from dryward_hardware.twin import Twin
from tests.bench.rivals import HAS, box

HOURS = 36.0
FAULT_AT_H = 12.0
PERIOD_S = 2.0
TUNED = Plant(gain_k=107.0, time_constant_s=470.0, dead_time_s=14.3, lag_s=15.0)


def run(seed: int, fault: dict[str, object] | None = None) -> tuple[str, float]:
    """Return the first verdict of one run and its hour; an empty one if none was given."""
    chance = random.Random(seed)
    doors = [
        {"kind": "door-open", "at_s": at, "until_s": at + chance.uniform(20.0, 240.0)}
        for at in sorted(chance.uniform(3600.0, HOURS * 3600.0) for _ in range(chance.randint(0, 6)))
    ]
    options: dict[str, object] = {
        "seed": seed, "faults": doors + ([fault] if fault else []),
        "room": {"air_c": chance.uniform(15.0, 28.0), "day_swing_k": chance.uniform(0.0, 5.0), "mains_swing": chance.uniform(0.0, 0.05), "rh_pct": chance.uniform(30.0, 80.0)},
    }  # fmt: skip
    twin = Twin("twin", options)
    twin.hang([Hung(name=f"piece-{n}", green_g=chance.uniform(400.0, 1200.0)) for n in range(chance.randint(1, 6))])
    first_c, second_c, change_h = chance.uniform(60.0, 82.0), chance.uniform(55.0, 80.0), chance.uniform(6.0, 30.0)
    chamber = box(Control(plant=TUNED), period_s=PERIOD_S)
    state, answer = ControlState(), Answer()
    seen: dict[str, float | None] = {"air": None, "ambient": None, "door": 0.0}
    for tick in range(int(HOURS * 3600.0 / PERIOD_S)):
        now = tick * PERIOD_S
        for sample in twin.poll(now).samples:
            seen[sample.channel.partition("/")[2]] = sample.value
        demand = Demand(air_c=first_c if now < change_h * 3600.0 else second_c)
        on, state = decide(
            chamber,
            state,
            demand,
            Air(air_c=seen["air"], ambient_c=seen["ambient"], door_open=bool(seen["door"])),
            HAS,
            now,
        )
        twin.want(on, now)
        answer = state.heat.learned.answer
        if answer.verdict and (fault is None or now > FAULT_AT_H * 3600.0):
            return answer.verdict, now / 3600.0
    return "", HOURS


def main() -> None:
    """Print what the watch said."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    said = [(seed, *run(seed)) for seed in range(runs)]
    false = [row for row in said if row[1]]
    print(f"healthy runs: {runs}, of {HOURS:g} h each; verdicts given: {len(false)} {false}", flush=True)
    for name, fault in (
        ("heater at 60 %", {"kind": "heater-weak", "value": 0.6}),
        ("fan at half speed", {"kind": "fan-slow", "value": 0.5}),
    ):
        found = [run(seed, {**fault, "at_s": FAULT_AT_H * 3600.0}) for seed in range(1000, 1000 + max(1, runs // 10))]
        delays = sorted(hour - FAULT_AT_H for verdict, hour in found if verdict)
        names = sorted({verdict for verdict, _ in found})
        middle = f", median after {delays[len(delays) // 2]:.1f} h" if delays else ""
        print(f"{name}: {len(delays)} of {len(found)} found{middle}; said: {names}", flush=True)


if __name__ == "__main__":
    main()
