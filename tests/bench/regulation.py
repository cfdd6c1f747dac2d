"""How steadily the heat is held: ``python -m tests.bench.regulation [--every]``.

For the three reference plants and both simulated chambers, every controller of ``rivals`` starts cold. Figures are those of
the reading without its noise, and of the air; the first two hours count for overshoot and settling only. Each plant is
run as it was tuned and with gain, time constant and dead time each 30 % off; the worst of these seven is printed, or
with ``--every`` all of them. Beside them stands what no controller can go below with the same cycle.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from math import exp, inf, sqrt

from dryward.core.chamber import Control, Plant
from dryward.core.tuning import RelayTest, advance, begin
from dryward.core.tuning_advice import advise, ripple_k
from dryward.core.tuning_fit import identify
from dryward_hardware.ports import Hung
from dryward_hardware.twin import Twin
from tests.bench.plants import REFERENCE, ROOM_C, TARGET_C, Box, Figures, Thermometer
from tests.bench.rivals import Rival, box, rivals

HOURS, COUNTED_FROM_H = 6.0, 2.0
SETTLED_K = 1.5
GOAL = {"rms": 0.5, "p-p": 2.0, "over": 1.5, "ops": 90.0}
OFF = (("as tuned", 1.0, 1.0, 1.0), ("gain +30 %", 1.3, 1.0, 1.0), ("gain -30 %", 0.7, 1.0, 1.0), ("time constant +30 %", 1.0, 1.3, 1.0),
       ("time constant -30 %", 1.0, 0.7, 1.0), ("dead time +30 %", 1.0, 1.0, 1.3), ("dead time -30 %", 1.0, 1.0, 0.7))  # fmt: skip


class World:
    """Something that is heated: a reading, what it would be without noise, the air."""

    def __init__(
        self,
        step: Callable[[bool, float, float], tuple[float, float, float]],
        *,
        room_c: float = ROOM_C,
        target_c: float = TARGET_C,
    ) -> None:
        self.step = step  # (heater on, dt_s, now) -> reading, reading without noise, air
        self.room_c, self.target_c = room_c, target_c


@dataclass(frozen=True, slots=True, kw_only=True)
class Score:
    """What a controller did. K, s, operations per hour."""

    rms_k: float
    swing_k: float
    over_k: float
    settled_s: float
    per_hour: float
    air_swing_k: float

    def goal(self) -> str:
        """Name what is missed, or say that all is met."""
        missed = [
            n
            for n, v in (("rms", self.rms_k), ("p-p", self.swing_k), ("over", self.over_k), ("ops", self.per_hour))
            if v > GOAL[n] + 0.005
        ]
        return "misses " + ", ".join(missed) if missed else "met"


def reference_world(figures: Figures, *, seed: int = 1) -> World:
    """Return a reference plant at rest in its room."""
    body, sensor = Box(figures), Thermometer(seed=seed)

    def step(on: bool, dt_s: float, now: float) -> tuple[float, float, float]:
        body.step(on=on, dt_s=dt_s, now=now)
        return sensor.read(body.sensor_c, now + dt_s), body.sensor_c, body.air_c

    return World(step)


def twin_world(
    options: dict[str, object], *, loaded: bool, target_c: float = TARGET_C, room_c: float = ROOM_C
) -> World:
    """Return a simulated chamber, with four invented pieces or empty; its sensor lags 15 s."""
    twin = Twin("twin", {"room": {"air_c": room_c}, **options})
    if loaded:
        twin.hang([Hung(name=f"piece-{n}", green_g=720.0 + 30.0 * n) for n in range(4)])
    shown = reading = twin.truth().air_c

    def step(on: bool, dt_s: float, now: float) -> tuple[float, float, float]:
        nonlocal shown, reading
        twin.want(frozenset({"fan", "vent", "heater"} if on else {"fan", "vent"}), now)
        for sample in twin.poll(now + dt_s).samples:
            if sample.channel == "twin/air" and sample.value is not None:
                reading = sample.value
        air_c = twin.truth().air_c
        shown += (air_c - shown) * (1.0 - exp(-dt_s / 15.0))
        return reading, shown, air_c

    return World(step, room_c=room_c, target_c=target_c)


def tuned_on(world: World) -> tuple[Plant, float]:
    """Run dryward's relay test on a world; return the plant found and the cycle advised."""
    chamber = box(Control())
    now, reading = 0.0, world.room_c
    test = begin(
        chamber,
        setpoint_c=world.target_c,
        air_c=reading,
        room_c=world.room_c,
        door_open=False,
        loaded=False,
        loaded_allowed=False,
        now=now,
    )
    while test.outcome == "running":
        on, test = advance(test, reading, now)
        reading, _, _ = world.step(on, 1.0, now)
        now += 1.0
    return _advised(test)


def _advised(test: RelayTest) -> tuple[Plant, float]:
    advice = advise(box(Control()), test, identify(test))
    return advice.plant, advice.cycle_s


def score(world: World, rival: Rival, *, hours: float = HOURS, period_s: float = 1.0) -> Score:
    """Let a controller hold the target from cold."""
    reading = world.room_c
    shown_c, airs = [], []
    on, starts = False, 0
    counted_s = COUNTED_FROM_H * 3600.0
    for tick in range(int(hours * 3600.0 / period_s)):
        now = tick * period_s
        was, on = on, rival.heats(world.target_c, reading, world.room_c, now)
        starts += on and not was and now >= counted_s
        reading, shown, air = world.step(on, period_s, now)
        shown_c.append(shown)
        airs.append(air)
    first = int(counted_s / period_s)
    late = shown_c[first:]
    last_off = max((n for n, c in enumerate(shown_c) if abs(c - world.target_c) > SETTLED_K), default=0)
    return Score(
        rms_k=sqrt(sum((c - world.target_c) ** 2 for c in late) / len(late)), swing_k=max(late) - min(late), over_k=max(shown_c) - world.target_c,
        settled_s=(last_off + 1) * period_s if last_off < first else inf, per_hour=starts / (hours - COUNTED_FROM_H),
        air_swing_k=max(airs[first:]) - min(airs[first:]),
    )  # fmt: skip


def floor(figures: Figures, cycle_s: float) -> tuple[float, float, float]:
    """Return what time-proportioning cannot go below: p-p of the air (closed form), p-p and rms of the reading."""
    plant = Plant(gain_k=figures.gain_k, time_constant_s=figures.time_constant_s, dead_time_s=figures.dead_time_s)
    duty = (TARGET_C - ROOM_C) / figures.gain_k
    body = Box(figures, start_c=TARGET_C)
    parts, shown = 400, []
    for n in range(parts * int(1 + 8 * figures.time_constant_s / cycle_s)):
        body.step(on=n % parts < duty * parts, dt_s=cycle_s / parts, now=n * cycle_s / parts)
        shown.append(body.sensor_c)
    last = shown[-parts:]
    mean = sum(last) / parts
    return (
        ripple_k(plant, cycle_s=cycle_s, duty=duty),
        max(last) - min(last),
        sqrt(sum((c - mean) ** 2 for c in last) / parts),
    )


def worst(scores: list[Score]) -> Score:
    """Return the worst of each figure."""
    return Score(
        rms_k=max(s.rms_k for s in scores), swing_k=max(s.swing_k for s in scores), over_k=max(s.over_k for s in scores),
        settled_s=max(s.settled_s for s in scores), per_hour=max(s.per_hour for s in scores), air_swing_k=max(s.air_swing_k for s in scores),
    )  # fmt: skip


def line(name: str, s: Score, goal: bool = True) -> str:
    """Return one row of the table."""
    settled = "never" if s.settled_s == inf else f"{s.settled_s:.0f}"
    row = f"  {name:<30} {s.rms_k:6.2f} {s.swing_k:6.2f} {s.over_k:6.2f} {settled:>8} {s.per_hour:7.1f} {s.air_swing_k:7.2f}"
    return f"{row}   {s.goal()}" if goal else row


def plant_table(figures: Figures, *, every: bool) -> Iterator[str]:
    """Yield the lines of one reference plant."""
    plant, cycle_s = tuned_on(reference_world(figures, seed=7))
    yield (f"\n{figures.name}: gain {figures.gain_k:g} K, time constant {figures.time_constant_s:g} s, dead time {figures.dead_time_s:g} s, lag {figures.lag_s:g} s. "
           f"Tuned: {plant.gain_k:.1f} K, {plant.time_constant_s:.0f} s, {plant.dead_time_s:.1f} s, {plant.lag_s:.1f} s, cycle {cycle_s:g} s")  # fmt: skip
    names = list(rivals(Control(), plant))
    seen: dict[str, list[Score]] = {name: [] for name in names}
    floors = []
    for change, gain, tau, dead in OFF:
        changed = figures.changed(gain=gain, time_constant=tau, dead_time=dead)
        floors.append(floor(changed, cycle_s))
        if every:
            yield f" {change}"
        for name in names:
            found = score(reference_world(changed), rivals(Control(cycle_s=cycle_s), plant)[name])
            seen[name].append(found)
            if every or change == "as tuned":
                yield line(name, found)
        if every or change == "as tuned":
            yield _floor_line(floors[-1:])
    yield " worst of seven: as tuned, and with gain, time constant and dead time each 30 % up and down"
    yield from (line(name, worst(scores)) for name, scores in seen.items())
    yield _floor_line(floors)


def _floor_line(floors: list[tuple[float, float, float]]) -> str:
    air, shown, rms = (max(values) for values in zip(*floors, strict=True))
    return f"  {'floor of this cycle':<30} {rms:6.2f} {shown:6.2f} {'':6} {'':8} {'':7} {air:7.2f}"


def twin_table(
    name: str, options: dict[str, object], *, hours: float, target_c: float = TARGET_C, room_c: float = ROOM_C
) -> Iterator[str]:
    """Yield the lines of a simulated chamber: tuned empty, run with wet meat."""

    def world(*, loaded: bool) -> World:
        return twin_world(options, loaded=loaded, target_c=target_c, room_c=room_c)

    plant, cycle_s = tuned_on(world(loaded=False))
    yield (f"\n{name}, {target_c:g} degC in a room at {room_c:g} degC, four wet pieces of 0.7-0.8 kg. Tuned empty: {plant.gain_k:.1f} K, "
           f"{plant.time_constant_s:.0f} s, {plant.dead_time_s:.1f} s, {plant.lag_s:.1f} s, cycle {cycle_s:g} s")  # fmt: skip
    for who, rival in rivals(Control(cycle_s=cycle_s), plant, cabinet=options.get("model") == "cabinet").items():
        yield line(who, score(world(loaded=True), rival, hours=hours))


def main() -> None:
    """Print the tables."""
    every = "--every" in sys.argv[1:]
    print(
        f"  {'target 80 degC, room 22 degC':<30} {'rms K':>6} {'p-p K':>6} {'over K':>6} {'settle s':>8} {'ops/h':>7} {'air p-p':>7}   goal"
    )
    for figures in REFERENCE:
        for text in plant_table(figures, every=every):
            print(text, flush=True)
    for text in twin_table("simulated dryer", {}, hours=HOURS):
        print(text, flush=True)
    for text in twin_table(
        "simulated cabinet, heated in a cold cellar", {"model": "cabinet"}, hours=2.0 * HOURS, target_c=13.0, room_c=2.0
    ):
        print(text, flush=True)


if __name__ == "__main__":
    main()
