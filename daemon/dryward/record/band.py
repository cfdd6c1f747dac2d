"""How long the air of each step was inside its band, below, above, and outside its safe limits. Pure.

A sample is a single reading or a span of five minutes; ``Limits.splits`` tells which spans a limit runs through, so
that only those have to be looked at reading by reading.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from dryward.core.program import Step
from dryward.record.lines import Run, StepLine


class Sample(NamedTuple):
    """What a channel showed for ``ticks`` ticks from ``tick`` on. Of a single reading the three values are the same."""

    tick: int
    ticks: int
    low: float
    value: float
    high: float


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
    never_reached: bool  # it has a band and the air never was in it
    inside_min: float
    below_min: float
    above_min: float
    unsafe_air_min: float
    unsafe_rh_min: float


@dataclass(frozen=True, slots=True)
class Limits:
    """The limits of one step for one quantity, and the ticks it took. None: no such limit."""

    first: int
    last: int
    band_low: float | None = None
    band_high: float | None = None
    safe_low: float | None = None
    safe_high: float | None = None

    def splits(self, s: Sample) -> bool:
        """Tell whether a limit of the step, or its beginning or end, runs through the sample."""
        if s.tick + s.ticks < self.first or s.tick > self.last:
            return False
        if s.tick < self.first or s.tick + s.ticks > self.last + 1:
            return True
        return any(
            edge is not None and s.low <= edge <= s.high and s.low < s.high
            for edge in (self.band_low, self.band_high, self.safe_low, self.safe_high)
        )


def air_limits(run: Run, line: StepLine) -> Limits:
    """Return the limits of the air temperature in a step, degC."""
    step, last = _step_of(run, line), _last(run, line)
    if step is None:
        return Limits(line.began_tick, last)
    low, high = (None, None) if step.air_c is None else (step.air_c - step.band_k, step.air_c + step.band_k)
    return Limits(line.began_tick, last, low, high, step.safe_air_low_c, step.safe_air_high_c)


def rh_limits(run: Run, line: StepLine) -> Limits:
    """Return the limits of the humidity in a step, %RH."""
    step, last = _step_of(run, line), _last(run, line)
    if step is None:
        return Limits(line.began_tick, last)
    return Limits(line.began_tick, last, None, None, step.safe_rh_low_pct, step.safe_rh_high_pct)


def step_band(run: Run, line: StepLine, air: Sequence[Sample], damp: Sequence[Sample]) -> StepBand:
    """Return how one step went. ``air`` and ``damp`` cover at least the step, in order of time."""
    minute, limits, step = run.period_s / 60.0, air_limits(run, line), _step_of(run, line)
    air = _cut(air, limits)
    reached = None
    inside = below = above = 0
    if limits.band_low is not None and limits.band_high is not None:
        for s in air:
            if limits.band_low <= s.value <= limits.band_high:
                reached = s.tick if reached is None else reached
                inside += s.ticks
            elif reached is not None and s.value < limits.band_low:
                below += s.ticks
            elif reached is not None:
                above += s.ticks
    weight = sum(s.ticks for s in air)
    return StepBand(
        name=line.name,
        began_utc=line.began_utc,
        ended_utc=line.ended_utc,
        hours=(limits.last - line.began_tick) * run.period_s / 3600.0,
        end_reason=line.end_reason,
        air_c=step.air_c if step is not None else run.program.at_end.air_c,
        mean_c=sum(s.value * s.ticks for s in air) / weight if weight else None,
        reached_min=None if reached is None else (reached - line.began_tick) * minute,
        never_reached=reached is None and limits.band_low is not None,
        inside_min=inside * minute,
        below_min=below * minute,
        above_min=above * minute,
        unsafe_air_min=_unsafe(air, limits) * minute,
        unsafe_rh_min=_unsafe(_cut(damp, limits), rh_limits(run, line)) * minute,
    )


def _step_of(run: Run, line: StepLine) -> Step | None:
    return (
        run.program.steps[line.step_no] if line.step_no < len(run.program.steps) else None
    )  # else: kept warm after the last


def _last(run: Run, line: StepLine) -> int:
    return line.ended_tick if line.ended_tick is not None else run.last_tick


def _cut(samples: Sequence[Sample], limits: Limits) -> Sequence[Sample]:
    return samples[bisect_left(samples, limits.first, key=_tick) : bisect_left(samples, limits.last, key=_tick)]


def _tick(sample: Sample) -> int:
    return sample.tick


def _unsafe(samples: Sequence[Sample], limits: Limits) -> int:
    low, high = limits.safe_low, limits.safe_high
    return sum(s.ticks for s in samples if (low is not None and s.value < low) or (high is not None and s.value > high))
