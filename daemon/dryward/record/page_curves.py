"""The curves of a review page: everything a run measured, brought onto one common row of points in time."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from dryward.record.band import Sample
from dryward.record.facts import Facts
from dryward.record.lines import Run
from dryward.record.queries import Record
from dryward.science.air import air_mistakes, wet_bulb_c

POINTS = 360
SHORT_S = 6.0 * 3600.0
"""A run up to this long is drawn from single readings; a longer one from lows, means and highs of five minutes."""

Values = Sequence[float | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """``points`` equal parts of a run, numbered from 0."""

    first: int  # tick
    last: int
    points: int
    period_s: float

    @property
    def hours(self) -> float:
        return (self.last - self.first) * self.period_s / 3600.0

    def part(self, tick: float) -> int:
        """Return the part a tick lies in."""
        return min(self.points - 1, max(0, int((tick - self.first) * self.points / (self.last - self.first + 1))))

    def share(self, tick: float) -> float:
        """Return where a tick lies, 0 (begin) to 1 (end)."""
        return min(1.0, max(0.0, (tick - self.first) / max(1, self.last - self.first)))

    def ticks(self) -> list[float]:
        """Return the tick in the middle of each part."""
        return [self.first + (n + 0.5) * (self.last - self.first + 1) / self.points for n in range(self.points)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """Lowest, mean and highest of one sensor in each part; None where nothing was measured."""

    name: str
    role: str
    low: Values
    mean: Values
    high: Values


@dataclass(frozen=True, slots=True, kw_only=True)
class Curves:
    """All that is drawn. ``setpoint_c`` is the program's own; ``loss_pct`` by piece."""

    grid: Grid
    sensors: Sequence[Curve]
    setpoint_c: Values
    rh_setpoint_pct: Values
    wet_bulb_c: Values
    duty_pct: Values
    energy_kwh: Values
    loss_pct: dict[str, Values] = field(default_factory=dict)

    def of_role(self, *roles: str) -> list[Curve]:
        """Return the curves of the sensors with one of these roles, in that order."""
        return [c for role in roles for c in self.sensors if c.role == role and any(v is not None for v in c.mean)]


def grid_of(run: Run, points: int = POINTS) -> Grid:
    """Return the parts of a run: as many as asked for, but none shorter than a tick."""
    ticks = run.last_tick - run.start_tick + 1
    return Grid(first=run.start_tick, last=run.last_tick, points=max(1, min(points, ticks)), period_s=run.period_s)


def curves(record: Record, facts: Facts, *, grid: Grid | None = None) -> Curves:
    """Return the curves of a run."""
    run = facts.run
    grid = grid or grid_of(run)
    means = record.figure_means(run.run_id, grid.points)
    short = grid.hours * 3600.0 <= SHORT_S
    sensors = []
    for sensor in run.chamber.sensors:
        if sensor.name in facts.samples:
            samples: Iterable[Sample] = facts.samples[sensor.name]
            if short:
                read = record.values(sensor.name, run.start_tick, run.last_tick)
                samples = [Sample(t, 1, *(v + sensor.offset,) * 3) for t, v in read] or samples
            sensors.append(Curve(name=sensor.name, role=sensor.role, **_spread(grid, samples)))
    return Curves(
        grid=grid,
        sensors=sensors,
        setpoint_c=_held_at(grid, facts.setpoints),
        rh_setpoint_pct=_carried(grid, means.get("rh_setpoint_pct", ()), last=True),
        wet_bulb_c=_wet_bulb(sensors, run.chamber.pressure_pa, grid.points),
        duty_pct=_carried(grid, means.get("heater_duty_pct", ()), last=False),
        energy_kwh=_carried(grid, means.get("energy_kwh", ()), last=True),
        loss_pct={
            p.name: _loss(
                _carried(grid, means.get(f"weight_g:{p.name}", ()), last=False),
                p.green_g,
                grid.part(p.out_tick) if p.out_tick else None,
            )
            for p in facts.pieces
        },
    )


def _spread(grid: Grid, samples: Iterable[Sample]) -> dict[str, Values]:
    low: list[float | None] = [None] * grid.points
    high: list[float | None] = [None] * grid.points
    total, weight = [0.0] * grid.points, [0] * grid.points
    for s in samples:
        if s.tick + s.ticks <= grid.first or s.tick > grid.last:
            continue
        # A span of five minutes may be longer than a part of a short run: it speaks for every part it covers.
        for n in range(grid.part(s.tick), grid.part(s.tick + s.ticks - 1) + 1):
            was_low, was_high = low[n], high[n]
            low[n] = s.low if was_low is None else min(was_low, s.low)
            high[n] = s.high if was_high is None else max(was_high, s.high)
            total[n] += s.value * s.ticks
            weight[n] += s.ticks
    mean = [t / w if w else None for t, w in zip(total, weight, strict=True)]
    return {"low": low, "mean": mean, "high": high}


def _held_at(grid: Grid, pairs: Sequence[tuple[int, float]]) -> Values:
    """Return a value that holds until the next, as it was in the middle of each part."""
    places = [bisect_right(pairs, tick, key=lambda pair: pair[0]) - 1 for tick in grid.ticks()]
    return [pairs[place][1] if place >= 0 else None for place in places]


def _carried(grid: Grid, parts: Iterable[tuple[int, float, float]], *, last: bool) -> Values:
    """Spread what was noted only when it changed over the parts after it."""
    noted = {part: (mean, value) for part, mean, value in parts}
    found: list[float | None] = []
    held: float | None = None
    for n in range(grid.points):
        mean, value = noted.get(n, (held, held))
        found.append(value if last else mean)
        held = value
    return found


def _loss(weights: Values, green_g: float, out_part: int | None) -> Values:
    return [
        None if w is None or (out_part is not None and n > out_part) else 100.0 * (1.0 - w / green_g)
        for n, w in enumerate(weights)
    ]


def _wet_bulb(sensors: Sequence[Curve], pressure_pa: float, points: int) -> Values:
    air = next((c.mean for c in sensors if c.role == "control-air"), [None] * points)
    damp = next((c.mean for c in sensors if c.role == "humidity"), [None] * points)
    return [_wet(t, rh, pressure_pa) for t, rh in zip(air, damp, strict=True)]


def _wet(air_c: float | None, rh_pct: float | None, pressure_pa: float) -> float | None:
    if air_c is None or rh_pct is None:
        return None
    rh_pct = min(100.0, max(0.0, rh_pct))
    if air_mistakes(dry_bulb_c=air_c, rh_pct=rh_pct, pressure_pa=pressure_pa):
        return None
    return wet_bulb_c(air_c=air_c, rh_pct=rh_pct, pressure_pa=pressure_pa)
