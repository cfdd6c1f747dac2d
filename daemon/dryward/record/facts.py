"""What a review is made from: everything the record says about one run."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from dryward.record.band import Sample
from dryward.record.lines import EventLine, NoteLine, PieceLine, Run, StepLine, WeighInLine
from dryward.record.moments import ScaleCalibration, utc_seconds, utc_text

SHOWN_UNIT = {
    "control-air": "degC",
    "limit-air": "degC",
    "core": "degC",
    "humidity": "%RH",
    "ambient": "degC",
    "ambient-humidity": "%RH",
}


class Then(NamedTuple):
    """A forecast made at ``tick``; times in ticks, None: never with that program. The span holds the finish nine times out of ten."""

    tick: int
    finish: float | None
    low: float | None
    high: float | None


class Extreme(NamedTuple):
    value: float
    tick: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """What the record says about one run; ``samples`` and ``extremes`` (lowest, highest) by sensor."""

    run: Run
    pieces: Sequence[PieceLine]
    steps: Sequence[StepLine]
    events: Sequence[EventLine]
    weigh_ins: Sequence[WeighInLine]
    setpoints: Sequence[tuple[int, float]]  # tick, degC; each holds until the next
    totals: Mapping[str, float]
    samples: Mapping[str, Sequence[Sample]]
    extremes: Mapping[str, tuple[Extreme, Extreme]]
    anchors: Sequence[tuple[int, float]]
    lost: int
    notes: Sequence[NoteLine] = ()
    forecasts: Mapping[str, Sequence[Then]] = field(default_factory=dict)  # by piece
    scales: Sequence[tuple[int, ScaleCalibration]] = ()  # each from its tick on

    def utc(self, tick: float) -> str:
        """Return the wall time of a tick."""
        return utc_text(wall_s(self.anchors, self.run, tick))


def wall_s(anchors: Sequence[tuple[int, float]], run: Run, tick: float) -> float:
    """Return the wall time of a tick, POSIX seconds: counted on from the clock's last anchor before it."""
    if not anchors:
        return utc_seconds(run.start_utc) + (tick - run.start_tick) * run.period_s
    at, utc_s = anchors[max(0, bisect_right(anchors, tick, key=lambda anchor: anchor[0]) - 1)]
    return utc_s + (tick - at) * run.period_s
