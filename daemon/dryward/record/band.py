"""How long the air of each step was inside its band, below, above, and outside its safe limits. Pure."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from dryward.core.program import Step
from dryward.record.lines import FigureLine, Run, StepLine


class Sample(NamedTuple):
    """A value that held for ``ticks`` ticks from ``tick`` on."""

    tick: int
    value: float
    ticks: int


@dataclass(frozen=True, slots=True, kw_only=True)
class StepBand:
    """One step as it was. The band counts from when the air first was in it; ``reached_min`` says how long that took."""

    name: str
    began_utc: str
    ended_utc: str | None
    hours: float
    end_reason: str
    air_c: float | None  # the program's setpoint
    mean_c: float | None
    reached_min: float | None  # None: never in the band, or no band
    inside_min: float
    below_min: float
    above_min: float
    unsafe_air_min: float
    unsafe_rh_min: float


def step_bands(run: Run, steps: Sequence[StepLine], air: Sequence[Sample], damp: Sequence[Sample], figures: Sequence[FigureLine]) -> tuple[StepBand, ...]:
    """Return every step that began, in order."""
    setpoints = [(f.tick, f.value) for f in figures if f.name == "air_setpoint_c"]
    found = []
    for line in steps:
        last = line.ended_tick if line.ended_tick is not None else run.last_tick
        step = run.program.steps[line.step_no] if line.step_no < len(run.program.steps) else None
        found.append(_step(run, line, step, _cut(air, line.began_tick, last), _cut(damp, line.began_tick, last), setpoints, last))
    return tuple(found)


def _cut(samples: Sequence[Sample], first: int, last: int) -> Sequence[Sample]:
    return samples[bisect_right(samples, first - 1, key=_tick) : bisect_right(samples, last, key=_tick)]


def _tick(sample: Sample) -> int:
    return sample.tick


def _step(
    run: Run, line: StepLine, step: Step | None, air: Sequence[Sample], damp: Sequence[Sample], setpoints: Sequence[tuple[int, float]], last: int
) -> StepBand:
    minute = run.period_s / 60.0
    target_c = step.air_c if step is not None else run.program.at_end.air_c
    reached: int | None = None
    inside = below = above = 0
    place = bisect_right(setpoints, line.began_tick, key=lambda pair: pair[0])
    for s in air if target_c is not None and step is not None else ():
        while place < len(setpoints) and setpoints[place][0] <= s.tick:
            place += 1
        off_k = s.value - (setpoints[place - 1][1] if place and setpoints[place - 1][0] >= line.began_tick else target_c or 0.0)
        if reached is None and step is not None and abs(s.value - (target_c or 0.0)) <= step.band_k:
            reached = s.tick
        if reached is None or step is None:
            continue
        if off_k < -step.band_k:
            below += s.ticks
        elif off_k > step.band_k:
            above += s.ticks
        else:
            inside += s.ticks
    weight = sum(s.ticks for s in air)
    return StepBand(
        name=line.name,
        began_utc=line.began_utc,
        ended_utc=line.ended_utc,
        hours=(last - line.began_tick) * run.period_s / 3600.0,
        end_reason=line.end_reason,
        air_c=target_c,
        mean_c=sum(s.value * s.ticks for s in air) / weight if weight else None,
        reached_min=None if reached is None else (reached - line.began_tick) * minute,
        inside_min=inside * minute,
        below_min=below * minute,
        above_min=above * minute,
        unsafe_air_min=_outside(air, step.safe_air_low_c, step.safe_air_high_c) * minute if step else 0.0,
        unsafe_rh_min=_outside(damp, step.safe_rh_low_pct, step.safe_rh_high_pct) * minute if step else 0.0,
    )


def _outside(samples: Sequence[Sample], low: float | None, high: float | None) -> int:
    return sum(s.ticks for s in samples if (low is not None and s.value < low) or (high is not None and s.value > high))
