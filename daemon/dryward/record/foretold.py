"""The forecast of each piece as it stood then: what the service recorded of it, at a quarter, half and three quarters of the way."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from dryward.record.facts import Facts, Then
from dryward.record.lines import PieceLine, Run
from dryward.record.queries import Record

SHARES = (0.25, 0.5, 0.75)
FIGURES = ("finish_s", "finish_lo_s", "finish_hi_s")


@dataclass(frozen=True, slots=True, kw_only=True)
class Foretold:
    """A forecast as it stood then; ``finish_utc`` None: not with that program, ``high_utc`` None: perhaps never.

    ``off_h``: hours by which the piece was done later (above 0) or earlier; ``held``: whether the span held its finish.
    """

    piece: str
    made_utc: str
    finish_utc: str | None
    low_utc: str | None
    high_utc: str | None
    off_h: float | None
    held: bool | None


def forecasts(record: Record, run: Run, pieces: Sequence[PieceLine]) -> dict[str, list[Then]]:
    """Return, for each piece, the forecasts in force at ``SHARES`` of the time it took (or has taken so far)."""
    found: dict[str, list[Then]] = {}
    for piece in pieces:
        last = min([t for t in (piece.reached_tick, piece.out_tick) if t is not None], default=run.last_tick)
        moments = [run.start_tick + share * (last - run.start_tick) for share in SHARES]
        told = [then for moment in moments if (then := _in_force(record, run, piece.name, moment)) is not None]
        if told:
            found[piece.name] = list(dict.fromkeys(told))
    return found


def _in_force(record: Record, run: Run, piece: str, moment: float) -> Then | None:
    values: list[float | None] = []
    made = -1
    for name in FIGURES:
        held = record.figure_at(f"{name}:{piece}", run.start_tick, int(moment))
        if held is None:
            return None
        tick, value = held
        made = max(made, tick)
        values.append(value / run.period_s if value > 0.0 else None)  # 0: never
    return Then(made, *values)


def judged(facts: Facts) -> Iterator[Foretold]:
    """Yield what was foretold of each piece, set against what came."""
    for piece in facts.pieces:
        crossed = crossed_tick(facts, piece)
        for then in facts.forecasts.get(piece.name, ()):
            off_h = held = None
            if crossed is not None:
                held = then.low is not None and then.low <= crossed and (then.high is None or crossed <= then.high)
                off_h = None if then.finish is None else (crossed - then.finish) * facts.run.period_s / 3600.0
            finish, low, high = (None if t is None else facts.utc(t) for t in (then.finish, then.low, then.high))
            yield Foretold(
                piece=piece.name,
                made_utc=facts.utc(then.tick),
                finish_utc=finish,
                low_utc=low,
                high_utc=high,
                off_h=off_h,
                held=held,
            )


def crossed_tick(facts: Facts, piece: PieceLine) -> float | None:
    """Return when a piece crossed its target, in ticks; None when it did not."""
    if piece.reached_tick is None or piece.crossed_s is None:
        return piece.reached_tick
    return piece.crossed_s / facts.run.period_s
