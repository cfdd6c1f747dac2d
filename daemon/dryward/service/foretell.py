"""When each piece will be done: read from the record, worked out in a process of its own.

``main`` takes a pickled ``Question`` from its parent process and gives back a pickled ``Outlook``. It is a
process because a forecast takes seconds on a small Pi, and a thread would hold up the tick each time it holds the interpreter
(5 ms at a time). It reads the record, which has all of the past, and so knows as much after a restart as before.
"""

from __future__ import annotations

import os
import pickle
import signal
import sys
from collections.abc import Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from itertools import groupby
from math import inf, log
from pathlib import Path

from dryward.core.chamber import Chamber
from dryward.core.coming import Coming, coming
from dryward.core.curves import Curves
from dryward.core.progress import Run
from dryward.core.weighing import PieceState
from dryward.record.queries import Record
from dryward.science.comeback import late_s
from dryward.science.curve_watch import trouble
from dryward.science.forecast import Forecast, Past, PieceLog, forecast, learn, mistakes
from dryward.science.pace import AirAt

LONGEST_S = 300
"""A forecast that takes longer, whatever the machine, has gone wrong."""
RAW_S = 900.0
"""The green weight stands for the first weighing when there is none so soon after the start."""
EARLY, TAUGHT = 0.25, 0.4
"""Shares of its way to the target. Earlier than the first nothing is foretold: the surface decides there, and on the simulated
dryer the forecasts were wrong by half and more. Until the second what past runs have shown narrows the forecast; later, it
only pulled it away from what the piece itself shows."""
MOST_TYPED, SLACK = 500, 0.02
"""So many weighings are looked through for some that contradict the others by more than this share of the green weight."""
RECENT_RUNS, ALIKE_PIECES = 4, 6
"""Of so many finished runs so many pieces are learnt from, those nearest in weight: the chamber changes, and learning takes time."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """What the service knows and the record does not say as easily. ``air``, ``humidity``: sensor names and offsets.

    ``past`` is what an earlier answer of this run has learnt; None: nothing yet.
    """

    record: Path
    run: Run
    pieces: tuple[PieceState, ...]
    period_s: float
    now: float
    air: tuple[str, float] | None = None
    humidity: tuple[str, float] | None = None
    past: Past | None = None
    learnt: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Ahead:
    """One piece: when it will be done, s on the chamber clock (inf: not with this program), or why that cannot be told.

    ``late_s``: how much later than that it may be taken out without being dried too far (``comeback.late_s``).
    """

    piece: str
    last_s: float
    last_g: float
    finish_s: float | None = None
    lo_s: float = inf
    hi_s: float = inf
    late_s: float = 0.0
    why: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlook:
    """The answer. ``over_s``: when the program is over, whatever was reached. ``past`` is to be asked with the next time."""

    run_id: str
    made_s: float
    over_s: float
    pieces: tuple[Ahead, ...]
    curves: Curves = ()
    past: Past | None = None

    def of(self, piece: str) -> Ahead | None:
        """Return what is ahead of one piece."""
        return next((p for p in self.pieces if p.piece == piece), None)


def answer(asked: Question) -> Outlook:
    """Work it out from what was known at ``asked.now``. Raises sqlite3.Error or NoSuchRun when the record cannot be read."""
    run_id, now = asked.run.run_id, asked.now
    with Record(asked.record) as record:
        greens = [p.piece.green_g for p in asked.pieces]
        past = asked.past if asked.learnt else learn_from(record, run_id, greens)
        airs = [a for a in airs_of(record, run_id, asked.period_s, asked.air, asked.humidity) if a.t_s < now]
        logs = {
            p.piece.name: log_of(record, run_id, p, asked.run.started_s, asked.period_s, airs, until_s=now)
            for p in asked.pieces
        }
    return foretold(asked, logs, airs, past)


def foretold(asked: Question, logs: dict[str, PieceLog], airs: Sequence[AirAt], past: Past | None) -> Outlook:
    """Forecast what can be forecast of these logs, in the program's own air to come."""
    wrong = {name: found for name, log in logs.items() if (found := mistakes(log) or too_early(log))}
    known = [way(log) for log in logs.values() if log.piece not in wrong]
    taught, past = past, past if known and min(known) < TAUGHT else None
    good = [log for name, log in logs.items() if name not in wrong]
    drying = [p for p in asked.pieces if p.status == "drying"]
    ahead = _coming(asked, good, airs, past)
    answers = {one.piece: one for one in _forecast(good, _plan(asked, good, airs, ahead.airs), past)}
    pieces = tuple(_ahead(p, logs[p.piece.name], answers.get(p.piece.name), wrong, ahead.over_s) for p in drying)
    return Outlook(
        run_id=asked.run.run_id,
        made_s=asked.now,
        over_s=ahead.over_s,
        pieces=pieces,
        curves=tuple(_curves(asked, logs, pieces)),
        past=taught,
    )


def way(log: PieceLog) -> float:
    """Return how much of the way to its target a piece has come, by its last weight."""
    return (log.green_g - max(log.weighings)[1]) / (log.green_g - log.target_g)


def too_early(log: PieceLog) -> list[str]:
    """Say that it is too early to tell, in a list of its own; empty when it is not."""
    if way(log) >= EARLY:
        return []
    lost_pct, goal_pct = (100.0 * (1.0 - g / log.green_g) for g in (max(log.weighings)[1], log.target_g))
    return [f"too early to tell, with {lost_pct:z.1f} % of {goal_pct:.0f} % lost"]


def _forecast(logs: Sequence[PieceLog], plan: Sequence[AirAt], past: Past | None) -> tuple[Forecast, ...]:
    return forecast(logs, plan, past) if logs else ()


def _ahead(
    state: PieceState, log: PieceLog, found: Forecast | None, wrong: dict[str, list[str]], over_s: float
) -> Ahead:
    last_s, last_g = max(log.weighings, default=(0.0, log.green_g))
    if found is None:
        why = "it needs two weighings at different times" if len(log.weighings) < 2 else "; ".join(wrong[log.piece])
        return Ahead(piece=state.piece.name, last_s=last_s, last_g=last_g, why=why)
    times = [inf if t is None or t > over_s else t for t in (found.finish_lo_s, found.finish_s, found.finish_hi_s)]
    late = late_s(green_g=log.green_g, target_g=log.target_g, weighings=log.weighings, finish_s=times[1])
    return Ahead(
        piece=log.piece, last_s=last_s, last_g=last_g, lo_s=times[0], finish_s=times[1], hi_s=times[2], late_s=late
    )


def _coming(asked: Question, logs: Sequence[PieceLog], airs: Sequence[AirAt], past: Past | None) -> Coming:
    """The program's steps to come; one that ends by loss asks the forecast when that will be."""
    drying = {p.piece.name for p in asked.pieces if p.status == "drying"}
    ask_of = [log for log in logs if log.piece in drying]

    def reach(loss_pct: float | None, who: str, ahead: Sequence[AirAt]) -> float:
        if loss_pct is None and who == "all":
            return inf  # the run is over then, and with it the question
        aimed = [
            log if loss_pct is None else replace(log, target_g=log.green_g * (1.0 - loss_pct / 100.0)) for log in ask_of
        ]
        found = _forecast([log for log in aimed if not mistakes(log)], _plan(asked, aimed, airs, ahead), past)
        times = [inf if one.finish_s is None else one.finish_s for one in found]
        return (max if who == "all" else min)(times, default=inf)

    return coming(asked.run, airs[-1].air_c if airs else None, reach, asked.now)


def _plan(asked: Question, logs: Sequence[PieceLog], airs: Sequence[AirAt], ahead: Sequence[AirAt]) -> list[AirAt]:
    """The air from the last weighings on: as it was until now, as the program has it after that."""
    since_s = min((max(log.weighings)[0] for log in logs if log.weighings), default=asked.now)
    was = [air for air in airs if since_s <= air.t_s < asked.now]
    if ahead or not airs:
        return [*was, *(air for air in ahead if air.t_s >= asked.now)]
    return [*was, replace(airs[-1], t_s=asked.now)]


def _curves(asked: Question, logs: dict[str, PieceLog], pieces: Iterable[Ahead]) -> Iterable[tuple[str, str]]:
    """What is wrong with which curve: the gravest of each piece."""
    for one in pieces:
        log = logs[one.piece]
        if log.weighings and (found := trouble(log.green_g, log.weighings, log.airs)):
            yield found, one.piece
        elif one.finish_s == one.lo_s == inf:
            yield "out-of-reach", one.piece


def believable(rows: Sequence[tuple[float, float]], slack_g: float) -> list[tuple[float, float]]:
    """Return the most weighings that agree with each other, the newer ones where there is a choice: none above an earlier one.

    One that was entered wrongly and weighed again would else forbid every forecast from then on. Quadratic: for weights typed in.
    """
    best: list[tuple[int, int]] = []  # so many up to this one, and which comes before it
    for k, (_, weight_g) in enumerate(rows):
        count, before = max(((best[j][0], j) for j in range(k) if weight_g <= rows[j][1] + slack_g), default=(0, -1))
        best.append((count + 1, before))
    place = max(range(len(rows)), key=lambda k: (best[k][0], k), default=-1)
    kept = []
    while place >= 0:
        kept.append(rows[place])
        place = best[place][1]
    return kept[::-1]


# ---- from the record


def log_of(
    record: Record,
    run_id: str,
    state: PieceState,
    started_s: float,
    period_s: float,
    airs: Sequence[AirAt],
    *,
    until_s: float = inf,
) -> PieceLog:
    """Return what is on record of a piece: weights typed in, and those of its scale as the engine filtered them."""
    piece = state.piece
    typed = [(w.tick * period_s, w.weight_g) for w in record.weighings(run_id) if w.piece == piece.name]
    shown = [(f.tick * period_s, f.value) for f in record.figures(run_id, f"weight_g:{piece.name}")]
    rows = [row for row in weighings(typed, shown, piece.green_g, started_s) if row[0] <= until_s]
    return PieceLog(piece=piece.name, green_g=piece.green_g, target_g=piece.target_g, weighings=rows, airs=airs)


def weighings(
    typed: Iterable[tuple[float, float]], shown: Iterable[tuple[float, float]], green_g: float, started_s: float
) -> list[tuple[float, float]]:
    """Join typed weights with those of a scale; of the latter each value once, since it stands until the next."""
    changed = [next(same) for _, same in groupby(shown, key=lambda row: row[1])]
    rows = sorted(set(typed) | set(changed))
    if len(rows) <= MOST_TYPED:
        rows = believable(rows, SLACK * green_g)
    if not rows or rows[0][0] > started_s + RAW_S:
        rows.insert(0, (started_s, green_g))
    return rows


def airs_of(
    record: Record, run_id: str, period_s: float, air: tuple[str, float] | None, humidity: tuple[str, float] | None
) -> list[AirAt]:
    """Return the air of a run, means of five minutes; the newest, which may not be whole yet, included."""
    if air is None:
        return []
    damp = {} if humidity is None else {s.from_tick: s.mean for s in record.spans(run_id, humidity[0])}
    offset = 0.0 if humidity is None else humidity[1]
    rows = []
    for span in record.spans(run_id, air[0]):
        if span.mean is not None:
            rh = damp.get(span.from_tick)
            rh_pct = None if rh is None else min(100.0, max(0.0, rh + offset))
            middle_s = (span.from_tick + span.ticks / 2.0) * period_s
            rows.append(AirAt(t_s=middle_s, air_c=span.mean + air[1], rh_pct=rh_pct))
    return rows


def learn_from(record: Record, run_id: str, greens_g: Sequence[float]) -> Past | None:
    """Learn from the newest finished runs of this record, from the pieces nearest in weight to those that dry now."""
    finished = [r for r in record.runs() if r.end_state == "complete" and r.run_id != run_id][:RECENT_RUNS]
    typical = sum(log(g) for g in greens_g) / max(1, len(greens_g))
    found = [
        (abs(log(log_.green_g) - typical), k, log_)
        for run in finished
        for k, log_ in enumerate(_logs_of(record, run.run_id))
    ]
    return learn([log_ for _, _, log_ in sorted(found, key=lambda row: row[:2])[:ALIKE_PIECES]])


def _logs_of(record: Record, run_id: str) -> list[PieceLog]:
    """The pieces of a finished run that reached their target."""
    run = record.run(run_id)
    airs = airs_of(record, run_id, run.period_s, channel(run.chamber, "control-air"), channel(run.chamber, "humidity"))
    reached = {line.name for line in record.pieces(run_id) if line.reached_tick is not None}
    started_s = run.start_tick * run.period_s
    logs = [
        log_of(record, run_id, PieceState(p), started_s, run.period_s, airs) for p in run.pieces if p.name in reached
    ]
    return [log_ for log_ in logs if len(log_.weighings) > 2]


def channel(chamber: Chamber, role: str) -> tuple[str, float] | None:
    """Return name and offset of the first sensor with a role."""
    return next(((s.name, s.offset) for s in chamber.sensors if s.role == role), None)


def main() -> None:
    """Answer one question."""
    signal.alarm(LONGEST_S)
    with suppress(OSError):  # a service's filter of system calls may forbid it; then it works at its parent's priority
        os.nice(10)
    with suppress(OSError):  # when memory runs out this is the process to give up, not its parent
        Path("/proc/self/oom_score_adj").write_text("800")
    asked: Question = pickle.load(sys.stdin.buffer)
    sys.stdout.buffer.write(pickle.dumps(answer(asked)))
