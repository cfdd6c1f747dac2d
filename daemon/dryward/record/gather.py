"""Asks the record for all that a review needs, looking at single readings only where a limit runs through a span."""

from __future__ import annotations

from collections.abc import Sequence
from statistics import median

from dryward.core.chamber import Sensor
from dryward.record.band import Limits, Sample, air_limits, rh_limits
from dryward.record.facts import SHOWN_UNIT, Extreme, Facts
from dryward.record.foretold import forecasts
from dryward.record.lines import PieceLine, Run, WeighInLine
from dryward.record.queries import Record

NEAR_ENOUGH = 0.25
"""K or %RH: an extreme is searched for no further than this, well below what such sensors are good for."""

LONGEST_S = 60.0  # a reading speaks for the time up to the next one, but no longer


def gather(record: Record, run_id: str) -> Facts:
    """Return the facts of a run. Raises NoSuchRun."""
    run = record.run(run_id)
    steps = record.steps(run_id)
    samples: dict[str, list[Sample]] = {}
    extremes: dict[str, tuple[Extreme, Extreme]] = {}
    for sensor in run.chamber.sensors:
        if sensor.role not in SHOWN_UNIT:
            continue
        spans = _spans(record, run, sensor)
        if spans:
            extremes[sensor.name] = (
                _extreme(record, run, sensor, spans, sign=-1),
                _extreme(record, run, sensor, spans, sign=1),
            )
        limits = (
            [air_limits(run, s) for s in steps]
            if sensor.role == "control-air"
            else [rh_limits(run, s) for s in steps]
            if sensor.role == "humidity"
            else []
        )
        samples[sensor.name] = _refined(record, run, sensor, spans, limits)
    weigh_ins = record.weighings(run_id)
    pieces = [_weighed_last(record, run, weigh_ins, piece) for piece in record.pieces(run_id)]
    return Facts(
        run=run,
        pieces=pieces,
        steps=steps,
        events=record.events(run_id),
        weigh_ins=weigh_ins,
        setpoints=[(f.tick, f.value) for f in record.figures(run_id, "air_setpoint_c")],
        totals=record.totals(run_id),
        samples=samples,
        extremes=extremes,
        anchors=record.anchors(run_id),
        lost=record.lost(run_id),
        notes=record.notes(run_id),
        forecasts=forecasts(record, run, pieces),
        scales=record.scale_calibrations(run_id),
    )


def _weighed_last(record: Record, run: Run, weigh_ins: Sequence[WeighInLine], piece: PieceLine) -> PieceLine:
    """Return a piece with the newest weight known of it; while a run lasts, none is written beside the piece itself."""
    if piece.final_g is not None:
        return piece
    shown = record.figure_at(f"weight_g:{piece.name}", run.start_tick, run.last_tick)
    known = [(w.tick, w.weight_g) for w in weigh_ins if w.piece == piece.name] + ([shown] if shown else [])
    return piece._replace(final_g=max(known)[1]) if known else piece


def _spans(record: Record, run: Run, sensor: Sensor) -> list[Sample]:
    k = sensor.offset
    return [
        Sample(s.from_tick, s.ticks, s.low + k, s.mean + k, s.high + k)
        for s in record.spans(run.run_id, sensor.name)
        if s.low is not None and s.mean is not None and s.high is not None
    ]


def _single(record: Record, run: Run, sensor: Sensor, span: Sample) -> list[Sample]:
    """Return the readings in a span, as far as it lies in the run; the span itself, so far, when they have been thinned out."""
    longest = max(1, round(LONGEST_S / run.period_s))
    first, last = max(span.tick, run.start_tick), min(span.tick + span.ticks - 1, run.last_tick)
    read = record.values(sensor.name, first, last)
    if not read:
        return [span._replace(tick=first, ticks=last - first + 1)]
    after = [tick for tick, _ in read[1:]] + [last + 1]
    return [
        Sample(tick, min(then - tick, longest), *(value + sensor.offset,) * 3)
        for (tick, value), then in zip(read, after, strict=True)
    ]


def _refined(
    record: Record, run: Run, sensor: Sensor, spans: Sequence[Sample], limits: Sequence[Limits]
) -> list[Sample]:
    found: list[Sample] = []
    for span in spans:
        if any(limit.splits(span) for limit in limits):
            found.extend(_single(record, run, sensor, span))
        else:
            found.append(span)
    return found


def _extreme(record: Record, run: Run, sensor: Sensor, spans: Sequence[Sample], *, sign: int) -> Extreme:
    """Return the highest (sign 1) or lowest (-1) value that lasted two readings: the median of three leaves out a lone odd one.

    Where the readings have been thinned out, the highest or lowest of their span stands for them, odd or not.
    """
    best: tuple[float, int] | None = None
    for span in sorted(spans, key=lambda s: max(sign * s.low, sign * s.high), reverse=True):
        if best is not None and best[0] + NEAR_ENOUGH >= max(sign * span.low, sign * span.high):
            break  # no span further on can hold much more
        three = _single(record, run, sensor, span)
        values = (
            [(sign * median(s.value for s in three[max(0, i - 1) : i + 2]), three[i].tick) for i in range(len(three))]
            if len(three) > 2
            else [(max(sign * s.low, sign * s.high), s.tick) for s in three]
        )
        top = max(values, key=lambda pair: pair[0])
        if best is None or top[0] > best[0]:
            best = top
    assert best is not None
    return Extreme(sign * best[0], best[1])
