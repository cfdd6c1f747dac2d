"""Minutes in, below and above the band of a step, and outside its safe limits."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from dryward.core.program import Ends, Program, Step
from dryward.record.band import Limits, Sample, air_limits, rh_limits, step_band
from dryward.record.lines import Run, StepLine
from tests.record.scene import CHAMBER

STEP = Step(name="dry", ends=Ends(dwell_h=1.0), air_c=60.0, band_k=3.0, safe_air_high_c=70.0, safe_rh_low_pct=20.0)
RUN = Run(
    run_id="r1", program=Program(name="one", steps=(STEP,), cap_h=9.0), pieces=(), chamber=CHAMBER, period_s=1.0, start_tick=0, start_utc="2025-10-09T08:53:20.000Z",
    end_tick=6000, end_utc=None, end_state="complete", end_reason="", last_tick=6000, start_state=None,
)  # fmt: skip
LINE = StepLine(0, "dry", 0, "2025-10-09T08:53:20.000Z", 6000, None, "")


def steady(tick: int, ticks: int, value: float) -> Sample:
    return Sample(tick, ticks, value, value, value)


def test_the_band_counts_from_when_the_air_first_was_in_it() -> None:
    """Worked by hand: 10 min warming, 60 min inside, 5 min above, 20 min below, 5 min far above the safe limit."""
    air = [
        steady(0, 600, 40.0),
        steady(600, 3600, 60.0),
        steady(4200, 300, 64.0),
        steady(4500, 1200, 50.0),
        steady(5700, 300, 71.0),
    ]
    band = step_band(RUN, LINE, air, [steady(0, 600, 15.0), steady(600, 5400, 30.0)])
    assert (band.reached_min, band.inside_min, band.below_min, band.above_min) == (10.0, 60.0, 20.0, 10.0)
    assert (band.unsafe_air_min, band.unsafe_rh_min) == (5.0, 10.0)
    assert band.mean_c is not None
    assert abs(band.mean_c - (600 * 40 + 3600 * 60 + 300 * 64 + 1200 * 50 + 300 * 71) / 6000) < 1e-9


def test_the_edges_of_the_band_are_inside() -> None:
    band = step_band(RUN, LINE, [steady(0, 60, 57.0), steady(60, 60, 63.0)], [])
    assert (band.inside_min, band.below_min, band.above_min) == (2.0, 0.0, 0.0)


def test_a_band_never_reached_is_said_and_counts_nothing() -> None:
    band = step_band(RUN, LINE, [steady(0, 6000, 40.0)], [])
    assert (band.reached_min, band.never_reached, band.below_min) == (None, True, 0.0)


def test_a_step_without_setpoint_has_safe_limits_only() -> None:
    watch = replace(STEP, air_c=None, watch_only=True, safe_air_high_c=4.4)
    run = replace(RUN, program=Program(name="rest", steps=(watch,), cap_h=9.0))
    band = step_band(run, LINE, [steady(0, 600, 3.0), steady(600, 120, 5.0)], [])
    assert (band.reached_min, band.never_reached) == (None, False)
    assert (band.inside_min, band.unsafe_air_min) == (0.0, 2.0)


def test_keeping_warm_after_the_last_step_has_no_band() -> None:
    after = LINE._replace(step_no=1, name="keep-warm")
    assert air_limits(RUN, after) == Limits(0, 6000)
    assert rh_limits(RUN, after) == Limits(0, 6000)
    assert step_band(RUN, after, [steady(0, 600, 62.0)], []).mean_c == 62.0
    assert not step_band(RUN, after, [steady(0, 600, 62.0)], []).never_reached


@given(st.lists(st.floats(40.0, 80.0), min_size=1, max_size=40))
def test_spans_give_the_same_minutes_as_their_readings_where_no_limit_splits_them(values: list[float]) -> None:
    readings = [steady(i * 10, 10, value) for i, value in enumerate(values)]
    limits = air_limits(RUN, LINE)
    mixed: list[Sample] = []
    for start in range(0, len(readings), 5):
        group = readings[start : start + 5]
        lows = [s.value for s in group]
        span = Sample(group[0].tick, 10 * len(group), min(lows), sum(lows) / len(lows), max(lows))
        mixed.extend(group if limits.splits(span) else [span])
    one, other = step_band(RUN, LINE, readings, []), step_band(RUN, LINE, mixed, [])
    assert (one.inside_min, one.below_min, one.above_min, one.unsafe_air_min, one.reached_min) == (
        other.inside_min, other.below_min, other.above_min, other.unsafe_air_min, other.reached_min,
    )  # fmt: skip


def test_a_span_over_the_beginning_or_end_of_a_step_is_split() -> None:
    limits = Limits(100, 400, 57.0, 63.0)
    assert limits.splits(Sample(50, 100, 60.0, 60.0, 60.0))
    assert limits.splits(Sample(350, 100, 60.0, 60.0, 60.0))
    assert not limits.splits(Sample(100, 300, 60.0, 60.0, 60.0))
    assert not limits.splits(Sample(0, 50, 50.0, 60.0, 70.0))
