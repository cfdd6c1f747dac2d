"""What became of a run: the verdict, each piece, each step, what was out of band and for how long. JSON-able.

``gather`` asks the record, ``judge`` (pure) decides; ``asdict`` of the result is what ``--json`` prints.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from dryward.record.band import Sample, StepBand, step_band
from dryward.record.facts import SHOWN_UNIT, Facts
from dryward.record.foretold import Foretold, crossed_tick, judged
from dryward.record.gather import gather
from dryward.record.lines import PieceLine, Run
from dryward.record.notebook import tags_of

__all__ = ["Extremes", "PieceVerdict", "PlotPoint", "Review", "Told", "gather", "judge"]

PLOT_POINTS = 66
TELL_MIN, TELL_SHARE = 10.0, 0.01  # time out of band is always in the table; beyond this it needs attention


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceVerdict:
    name: str
    green_g: float
    target_g: float
    target_loss_pct: float
    final_g: float | None
    loss_pct: float | None
    finished_utc: str | None
    outcome: str  # reached, drying, short, taken out before its target, never weighed, not weighed yet


@dataclass(frozen=True, slots=True, kw_only=True)
class Extremes:
    """Lowest and highest that lasted two readings or more; a lone odd one does not count."""

    channel: str
    role: str
    unit: str
    low: float
    low_utc: str
    high: float
    high_utc: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    utc: str
    severity: str
    subject: str
    text: str
    advice: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Noted:
    """What somebody wrote; ``piece`` empty: about the whole run."""

    utc: str
    piece: str
    who: str
    text: str
    photo: str
    tags: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlotPoint:
    hours: float
    low: float | None
    mean: float | None
    high: float | None
    setpoint: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Review:
    """The whole review. ``verdict`` is one of complete, complete-short, stopped, aborted, open."""

    run_id: str
    program: str
    chamber: str
    verdict: str
    headline: str
    reason: str
    started_utc: str
    ended_utc: str | None
    until_utc: str  # the last moment on record
    hours: float
    attention: tuple[str, ...]
    pieces: tuple[PieceVerdict, ...]
    steps: tuple[StepBand, ...]
    extremes: tuple[Extremes, ...]
    told: tuple[Told, ...]  # warnings, alarms and trips
    energy_kwh: float | None
    water_g: float | None
    operations: Mapping[str, int]
    weigh_ins: tuple[tuple[str, str, float, str], ...]  # utc, piece, g, who
    scales: Mapping[str, tuple[str, ...]]  # calibrations by which each scale's counts were weighed
    lost_readings: int
    known: tuple[
        tuple[str, tuple[str, ...]], ...
    ]  # piece ('' for all of them), what is measured, estimated, not credited
    air: tuple[PlotPoint, ...]
    notes: tuple[Noted, ...] = ()
    tags: tuple[tuple[str, tuple[str, ...]], ...] = ()  # piece ('' for the run), the tags that hold
    foretold: tuple[Foretold, ...] = ()


def known(facts: Facts) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Return the statements made at the end, each piece's own apart from what was said of all."""
    said = {e.event.subject: e.event.text.splitlines() for e in facts.events if e.event.kind == "finish-statement"}
    if not said:
        return ()
    common = [
        line for line in next(iter(said.values())) if len(said) > 1 and all(line in other for other in said.values())
    ]
    own = [(piece, tuple(line for line in lines if line not in common)) for piece, lines in said.items()]
    return (*own, ("", tuple(common))) if common else tuple(own)


def judge(facts: Facts) -> Review:
    """Return the review of these facts."""
    run = facts.run
    pieces = tuple(_piece(facts, p) for p in facts.pieces)
    told = tuple(
        Told(utc=e.utc, severity=e.event.severity, subject=e.event.subject, text=e.event.text, advice=e.event.advice)
        for e in facts.events
        if e.event.severity in ("warning", "alarm", "trip")
    )
    control = next((s.name for s in run.chamber.sensors if s.role == "control-air"), "")
    damp = next((s.name for s in run.chamber.sensors if s.role == "humidity"), "")
    steps = tuple(
        step_band(run, line, facts.samples.get(control, ()), facts.samples.get(damp, ())) for line in facts.steps
    )
    weighed = [p for p in pieces if p.final_g is not None]
    verdict = _verdict(run, pieces)
    return Review(
        run_id=run.run_id,
        program=run.program.name,
        chamber=run.chamber.name,
        verdict=verdict,
        headline=_headline(verdict, pieces),
        reason=_reason(run.end_reason, told),
        started_utc=run.start_utc,
        ended_utc=run.end_utc,
        until_utc=facts.utc(run.last_tick),
        hours=(run.last_tick - run.start_tick) * run.period_s / 3600.0,
        attention=_attention(verdict, pieces, steps, told, facts.lost),
        pieces=pieces,
        steps=steps,
        extremes=tuple(
            Extremes(
                channel=s.name,
                role=s.role,
                unit=SHOWN_UNIT[s.role],
                low=facts.extremes[s.name][0].value,
                low_utc=facts.utc(facts.extremes[s.name][0].tick),
                high=facts.extremes[s.name][1].value,
                high_utc=facts.utc(facts.extremes[s.name][1].tick),
            )
            for s in run.chamber.sensors
            if s.name in facts.extremes
        ),
        told=told,
        energy_kwh=facts.totals.get("energy_kwh"),
        water_g=sum(p.green_g - (p.final_g or 0.0) for p in weighed) if weighed else None,
        operations={
            name.removesuffix("_operations"): round(value)
            for name, value in facts.totals.items()
            if name.endswith("_operations")
        },
        weigh_ins=tuple((facts.utc(w.tick), w.piece, w.weight_g, w.who) for w in facts.weigh_ins),
        scales=_scales(facts),
        lost_readings=facts.lost,
        known=known(facts),
        air=_plot(facts, facts.samples.get(control, ())),
        notes=tuple(_noted(facts)),
        tags=tuple(tags_of(facts.notes).items()),
        foretold=tuple(judged(facts)),
    )


def _noted(facts: Facts) -> Iterator[Noted]:
    """Yield what people wrote; tags alone are shown as what holds of them now."""
    for n in facts.notes:
        if n.text or n.photo:
            yield Noted(utc=n.utc, piece=n.piece, who=n.who, text=n.text, photo=n.photo, tags=tuple(n.tags.split()))


def _scales(facts: Facts) -> dict[str, tuple[str, ...]]:
    """Return the calibrations by which each scale's counts were weighed, each once, in their order."""
    found: dict[str, dict[str, None]] = {}
    for _, cell in facts.scales:
        found.setdefault(cell.scale, {})[cell.calibration] = None
    return {scale: tuple(names) for scale, names in found.items()}


def _verdict(run: Run, pieces: Sequence[PieceVerdict]) -> str:
    if run.end_state == "complete":
        return "complete" if all(p.outcome == "reached" for p in pieces) else "complete-short"
    return run.end_state or "open"


def _reason(why: str, told: Sequence[Told]) -> str:
    """Return why a run ended; for a trip, in the words it was told in."""
    key = why.removeprefix("tripped: ")
    if key == why:
        return why
    said = [t.text for t in told if t.severity == "trip" and t.subject.partition(":")[0] == key]
    return f"{why}. {said[-1]}" if said else why


def _headline(verdict: str, pieces: Sequence[PieceVerdict]) -> str:
    reached = sum(p.outcome == "reached" for p in pieces)
    count = (
        f"{reached} of {len(pieces)} pieces reached their target"
        if len(pieces) != 1
        else f"the piece {'reached' if reached else 'did not reach'} its target"
    )
    match verdict:
        case "complete":
            return f"COMPLETE: {count}." if pieces else "COMPLETE: the program came to its end."
        case "complete-short":
            return f"COMPLETE, BUT SHORT: {count}."
        case "stopped":
            return f"STOPPED before its end: {count}."
        case "aborted":
            return f"ABORTED, NOT FINISHED: {count}."
        case _:
            return f"NO END YET: still under way, or cut off. So far {count}."


def _piece(facts: Facts, p: PieceLine) -> PieceVerdict:
    if p.reached_tick is not None:
        outcome = "reached"
    elif p.out_tick is not None:
        outcome = "taken out before its target"
    elif facts.run.end_state:
        outcome = "short" if p.final_g is not None else "never weighed"
    else:
        outcome = "drying" if p.final_g is not None else "not weighed yet"
    crossed = crossed_tick(facts, p)
    return PieceVerdict(
        name=p.name,
        green_g=p.green_g,
        target_g=p.target_g,
        target_loss_pct=p.target_loss_pct,
        final_g=p.final_g,
        loss_pct=None if p.final_g is None else 100.0 * (1.0 - p.final_g / p.green_g),
        finished_utc=None if crossed is None else facts.utc(crossed),
        outcome=outcome,
    )


def _attention(
    verdict: str, pieces: Sequence[PieceVerdict], steps: Sequence[StepBand], told: Sequence[Told], lost: int
) -> tuple[str, ...]:
    found = []
    if verdict == "open":
        found.append("Do not treat these pieces as dried by this program yet: it has not come to its end.")
    if verdict == "aborted":
        found.append("Do not treat these pieces as dried by this program: it did not come to its end.")
    unweighed = [p.name for p in pieces if p.outcome == "never weighed"]
    if unweighed:
        found.append(f"Never weighed: {', '.join(unweighed)}.")
    for p in pieces:
        if p.outcome in ("short", "taken out before its target"):
            left = "" if p.final_g is None else f": {p.final_g:.0f} g, target {p.target_g:.0f} g"
            found.append(f"{p.name} {'is short of its target' if p.outcome == 'short' else 'was ' + p.outcome}{left}.")
    found.extend(f"Trip at {t.utc}: {t.text}" for t in told if t.severity == "trip")
    for s in steps:
        if s.never_reached and s.ended_utc and s.hours * 60.0 >= TELL_MIN:
            found.append(f"Step {s.name}: the air was never seen in its band.")
        if s.below_min + s.above_min >= max(TELL_MIN, TELL_SHARE * s.inside_min):
            found.append(f"Step {s.name}: air {s.below_min:.0f} min below and {s.above_min:.0f} min above its band.")
        if s.unsafe_air_min + s.unsafe_rh_min >= 1.0:
            found.append(
                f"Step {s.name}: outside its safe limits for {s.unsafe_air_min:.0f} min (air), {s.unsafe_rh_min:.0f} min (humidity)."
            )
    if lost:
        found.append(f"{lost} readings could not be kept: the figures above miss them.")
    return tuple(found)


def _plot(facts: Facts, samples: Sequence[Sample]) -> tuple[PlotPoint, ...]:
    run = facts.run
    width = max(1, run.last_tick - run.start_tick) / PLOT_POINTS
    buckets: list[list[Sample]] = [[] for _ in range(PLOT_POINTS)]
    for s in samples:
        buckets[min(PLOT_POINTS - 1, max(0, int((s.tick - run.start_tick) / width)))].append(s)
    setpoints = facts.setpoints
    points = []
    for number, bucket in enumerate(buckets):
        at = run.start_tick + (number + 0.5) * width
        place = bisect_right(setpoints, at, key=lambda pair: pair[0]) - 1
        points.append(
            PlotPoint(
                hours=(number + 0.5) * width * run.period_s / 3600.0,
                low=min((s.low for s in bucket), default=None),
                mean=sum(s.value * s.ticks for s in bucket) / max(1, sum(s.ticks for s in bucket)) if bucket else None,
                high=max((s.high for s in bucket), default=None),
                setpoint=setpoints[place][1] if place >= 0 else None,
            )
        )
    return tuple(points)
