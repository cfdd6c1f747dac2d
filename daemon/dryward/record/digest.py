"""One day of a run in a few lines, for a message: how far each piece is, how long out of band, what to do next.

``day_of`` asks the record, ``foreseen`` adds what the running daemon expects; ``as_text`` (pure) writes.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, tzinfo
from typing import Any

from dryward.record.band import air_limits
from dryward.record.facts import Facts
from dryward.record.gather import gather
from dryward.record.page_marks import HELD, phase_told
from dryward.record.page_words import moment
from dryward.record.queries import Record
from dryward.record.review import Review, judge

DAY_H = 24.0
MOST_TOLD = 3
MOST_PIECES = 10  # a messenger takes about 1500 characters
SLOW_PCT = 0.2
"""A piece that lost less than this in a day has all but stopped."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceDay:
    """One piece: what it has lost of its green weight, and what of it in the last day (None: not known).

    ``over_h``: the length of that day, shorter in a run that began since; ``finish``: when it is expected to be done,
    and the span that holds it nine times out of ten, UTC; None: nothing is foretold.
    """

    name: str
    loss_pct: float | None
    day_pct: float | None
    target_loss_pct: float
    done: bool  # nothing is waited for any more: at its target, or taken out
    early: bool = False  # taken out before its target
    over_h: float = DAY_H
    finish: tuple[str, str, str] | None = None

    @property
    def hours_left(self) -> float | None:
        """Hours to its target at the pace of the last day; a rough figure, drying slows down."""
        if self.done or self.loss_pct is None or self.day_pct is None or self.day_pct < SLOW_PCT * self.over_h / DAY_H:
            return None
        return max(0.0, self.target_loss_pct - self.loss_pct) / self.day_pct * self.over_h if self.day_pct else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Day:
    """What a digest says. Minutes are of the last day; ``told`` are its warnings, alarms and trips; ``step`` empty: not running."""

    chamber: str
    run_id: str
    verdict: str  # as in Review
    hours: float
    step: str
    held: bool
    inside_min: float
    below_min: float
    above_min: float
    energy_kwh: float | None
    pieces: Sequence[PieceDay]
    told: Sequence[tuple[str, str, str]]  # severity, text, advice
    visit: str = ""  # when to come back and for what, as the daemon foretells it


def day_of(record: Record, run_id: str) -> Day:
    """Return the last 24 hours of a run, up to its end or to what is known last. Raises NoSuchRun."""
    facts = gather(record, run_id)
    review = judge(facts)
    run = facts.run
    since = max(run.start_tick, run.last_tick - round(DAY_H * 3600.0 / run.period_s))
    inside, below, above = _in_band(facts, since)
    energy = [(f.tick, f.value) for f in record.figures(run_id, "energy_kwh")]
    return Day(
        chamber=run.chamber.name,
        run_id=run_id,
        verdict=review.verdict,
        hours=review.hours,
        step=facts.steps[-1].name if facts.steps and review.verdict == "open" else "",
        held=review.verdict == "open"
        and next((phase for e in reversed(facts.events) if (phase := phase_told(e.event))), "") in HELD,
        inside_min=inside * run.period_s / 60.0,
        below_min=below * run.period_s / 60.0,
        above_min=above * run.period_s / 60.0,
        energy_kwh=energy[-1][1] - _at(energy, since, energy[0][1]) if energy else None,
        pieces=tuple(_piece(record, facts, review, n, since) for n in range(len(facts.pieces))),
        told=tuple(
            (e.event.severity, e.event.text, e.event.advice)
            for e in facts.events
            if e.tick >= since and e.event.severity in ("warning", "alarm", "trip")
        ),
    )


def foreseen(day: Day, pieces: Iterable[Mapping[str, Any]], visit: str = "") -> Day:
    """Return the day with what a status foretells of its pieces (``finish_utc``, ``finish_lo_utc``, ``finish_hi_utc``) and of the next opening."""
    found: dict[object, tuple[str, str, str]] = {}
    for piece in pieces:
        at, low, high = (piece.get(f"finish{end}_utc") for end in ("", "_lo", "_hi"))
        if isinstance(at, str) and isinstance(low, str) and isinstance(high, str):
            found[piece.get("name")] = (at, low, high)
    return replace(day, visit=visit, pieces=tuple(replace(p, finish=found.get(p.name)) for p in day.pieces))


def as_text(day: Day, *, zone: tzinfo | None = UTC) -> str:
    """Return the digest: a line for the run, one for each piece, what went wrong, what to do next; times in ``zone`` (None: that of this machine)."""
    state = {
        "complete": "complete",
        "complete-short": "complete, but short",
        "stopped": "stopped",
        "aborted": "ABORTED",
    }
    at = f"{'HELD in ' if day.held else ''}step {day.step}" if day.step else state.get(day.verdict, "no step running")
    lines = [f"{day.chamber}, run {day.run_id}: {at}, {_lasting(day.hours)} since the start."]
    lines += [f"{severity.upper()}: {text}" for severity, text, _ in day.told[-MOST_TOLD:]]
    if len(day.told) > MOST_TOLD:
        lines.append(f"{len(day.told) - MOST_TOLD} more warnings or alarms before these.")
    lines.append(_band_line(day))
    if day.energy_kwh is not None:
        lines.append(f"Energy in {_lately(day.hours)}: {day.energy_kwh:.1f} kWh.")
    told = [_piece_line(p, going=bool(day.step) and not day.held, zone=zone) for p in day.pieces]
    lines += told[:MOST_PIECES]
    if len(told) > MOST_PIECES:
        lines.append(f"{len(told) - MOST_PIECES} more pieces: 'dryward status' tells of all.")
    return "\n".join([*lines, f"Next: {next_action(day)}"])


def _band_line(day: Day) -> str:
    if day.below_min + day.above_min >= 0.5:
        return f"Out of band in {_lately(day.hours)}: {day.below_min:.0f} min below, {day.above_min:.0f} min above."
    if day.inside_min < 0.5:
        return f"The air has reached no band in {_lately(day.hours)}."
    return "Once the air had reached its band it stayed there."


def next_action(day: Day) -> str:
    """Return the one thing to do next."""
    grave = [advice for severity, _, advice in day.told if severity in ("trip", "alarm") and advice]
    if day.verdict == "aborted":
        return "find the cause before anything heats again, and judge the meat by how long it was warm."
    if day.verdict in ("complete", "complete-short"):
        return "take the pieces out, cool them quickly, keep them cold."
    if day.verdict == "stopped":
        return "weigh the pieces, look at them, keep them cold."
    if grave:
        return grave[-1]
    if day.held:
        return "the run is held: 'dryward resume' or 'dryward stop'."
    if day.visit:
        return f"{day.visit[:1].lower()}{day.visit[1:]}"
    due = [p for p in day.pieces if not p.done and p.hours_left is not None and p.hours_left <= DAY_H]
    if due:
        soonest = min(due, key=lambda p: p.hours_left or 0.0)
        return f"be there for {soonest.name}: at the pace of the last day it is done in about {_lasting(soonest.hours_left or 0.0)}."
    unknown = [p.name for p in day.pieces if not p.done and p.loss_pct is None]
    if unknown:
        return f"weigh {', '.join(unknown)}."
    return (
        "nothing, the pieces are drying."
        if any(not p.done for p in day.pieces)
        else "look at the program: no piece is left to wait for."
    )


def _piece_line(p: PieceDay, *, going: bool, zone: tzinfo | None) -> str:
    if p.loss_pct is None:
        return f"{p.name}: never weighed, target {p.target_loss_pct:g} %."
    line = f"{p.name}: {p.loss_pct:.1f} of {p.target_loss_pct:g} % lost"
    if p.done:
        return f"{line}, {'taken out early' if p.early else 'done'}."
    if p.day_pct is not None:
        line += f", {p.day_pct:.1f} in {_lately(p.over_h)}"
    if going and p.finish is not None:
        at, low, high = (moment(utc, zone) for utc in p.finish)
        return f"{line}; expected done {at} ({low} to {high})."
    return f"{line}; about {_lasting(p.hours_left)} to go." if going and p.hours_left is not None else f"{line}."


def _piece(record: Record, facts: Facts, review: Review, number: int, since: int) -> PieceDay:
    row, verdict = facts.pieces[number], review.pieces[number]
    weights = [(f.tick, f.value) for f in record.figures(facts.run.run_id, f"weight_g:{row.name}")]
    by_hand = [(w.tick, w.weight_g) for w in facts.weigh_ins if w.piece == row.name]
    known = weights or by_hand
    newest_g = known[-1][1] if known else None
    last_g = row.final_g if row.out_tick is not None or newest_g is None else newest_g
    before_g = _at(known, since, row.green_g)
    return PieceDay(
        name=row.name,
        loss_pct=None if last_g is None else 100.0 * (1.0 - last_g / row.green_g),
        day_pct=None if last_g is None else 100.0 * (before_g - last_g) / row.green_g,
        target_loss_pct=row.target_loss_pct,
        done=verdict.outcome == "reached" or row.out_tick is not None,
        early=verdict.outcome != "reached" and row.out_tick is not None,
        over_h=max(1, facts.run.last_tick - since) * facts.run.period_s / 3600.0,
    )


def _at(pairs: Sequence[tuple[int, float]], tick: int, first: float) -> float:
    """Return what held at a tick: the newest value up to it, ``first`` before there was one."""
    return next((value for at, value in reversed(pairs) if at <= tick), first)


def _in_band(facts: Facts, since: int) -> tuple[int, int, int]:
    """Return the ticks inside, below and above the band since a tick, counted as the review does: once the air had reached it."""
    control = next((s.name for s in facts.run.chamber.sensors if s.role == "control-air"), "")
    inside = below = above = 0
    for step in facts.steps:
        limits, reached = air_limits(facts.run, step), False
        if limits.band_low is None or limits.band_high is None:
            continue
        for s in facts.samples.get(control, ()):
            if not limits.first <= s.tick < limits.last:
                continue
            reached = reached or limits.band_low <= s.value <= limits.band_high
            if reached and s.tick >= since:
                below += s.ticks if s.value < limits.band_low else 0
                above += s.ticks if s.value > limits.band_high else 0
                inside += s.ticks if limits.band_low <= s.value <= limits.band_high else 0
    return inside, below, above


def _lately(hours: float) -> str:
    return "the last day" if hours >= 0.98 * DAY_H else f"the {_lasting(hours)} since the start"


def _lasting(hours: float) -> str:
    if hours < 1.0:
        return f"{hours * 60.0:.0f} min"
    return f"{hours / DAY_H:.1f} days" if hours >= 2.0 * DAY_H else f"{hours:.0f} h"
