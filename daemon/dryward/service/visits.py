"""When the owner has to come back, from the forecasts, and how that is said: a clock time in plain words."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta

from dryward.core.phases import ACTIVE
from dryward.core.state import State
from dryward.core.weighing import PieceState
from dryward.science.comeback import Awaited, Span, Visit, plan
from dryward.service.foretell import Outlook

ROUND_S = 300.0
"""Nobody comes to the minute."""
SOON_S = 120.0
FIRST_SHARE, SOONEST_SHARE = 0.5, 0.125
"""A piece of which nothing can be foretold yet is weighed within the first share of its reminder's interval, not before the second."""
EVERY_H = 12.0
"""That interval, where no reminder is wanted (`weigh_every_h = 0`)."""
QUIET_DAYS = 60


@dataclass(frozen=True, slots=True)
class Due:
    """The next opening as others need it: pieces to weigh by hand, by when, and a sentence that says it.

    ``planned``: all pieces that some opening, this one or a later, is planned for.
    """

    at_s: float
    weigh: tuple[str, ...]
    ready: tuple[str, ...]
    text: str
    planned: tuple[str, ...] = ()


def visits(
    state: State, outlook: Outlook | None, quiet: Sequence[tuple[float, float]], *, weigh_every_h: float
) -> tuple[Visit, ...]:
    """Plan the openings of a run; empty outside of one. Times in s on the chamber clock."""
    if state.run.phase not in ACTIVE:
        return ()
    awaited: list[Awaited] = []
    others: list[Span] = []
    on_rack = {m.name for rack in state.racks for m in rack.members if m.hangs and not rack.doubts}
    for piece in state.pieces:
        if piece.status != "drying":
            continue
        name = piece.piece.name
        by_hand = not (piece.hung or name in on_rack)
        ahead = outlook.of(name) if outlook is not None and outlook.run_id == state.run.run_id else None
        if ahead is not None and ahead.finish_s is not None:
            awaited.append(
                Awaited(
                    piece=name,
                    by_hand=by_hand,
                    finish_s=ahead.finish_s,
                    lo_s=ahead.lo_s,
                    hi_s=ahead.hi_s,
                    late_s=ahead.late_s,
                )
            )
        elif by_hand:
            others.append(_first(piece, state.run.started_s, (weigh_every_h or EVERY_H) * 3600.0))
    return plan(awaited, others, quiet, state.now)


def _first(piece: PieceState, started_s: float, every_s: float) -> Span:
    since_s = max(started_s, piece.weighed_s)
    return Span(piece.piece.name, since_s + SOONEST_SHARE * every_s, since_s + FIRST_SHARE * every_s)


def quiet_spans(quiet_from: str, quiet_to: str, now: float, utc_s: float) -> list[tuple[float, float]]:
    """Return the quiet hours around and after now, on the chamber clock. The wall clock says how much that is ahead."""
    if not quiet_from or not quiet_to or quiet_from == quiet_to:
        return []
    begin, end = time.fromisoformat(quiet_from), time.fromisoformat(quiet_to)
    today = datetime.fromtimestamp(utc_s).date()
    spans = []
    for day in (today + timedelta(days=n) for n in range(-1, QUIET_DAYS)):
        first = datetime.combine(day, begin)
        last = datetime.combine(day + timedelta(days=1 if end <= begin else 0), end)
        spans.append((now + first.timestamp() - utc_s, now + last.timestamp() - utc_s))
    return spans


def due(planned: Sequence[Visit], state: State, utc_s: float) -> Due | None:
    """Return the next opening of a plan and say it; pieces that are done or out by now are left out."""
    drying = {p.piece.name for p in state.pieces if p.status == "drying"}
    all_names = tuple(dict.fromkeys(name for visit in planned for name in (*visit.weigh, *visit.ready)))
    for visit in planned:
        weigh = tuple(name for name in visit.weigh if name in drying)
        ready = tuple(name for name in visit.ready if name in drying)
        if weigh or ready:
            at_s = max(visit.at_s, state.now)
            return Due(at_s, weigh, ready, said(at_s, weigh, ready, state.now, utc_s), all_names)
    return None


def said(at_s: float, weigh: Sequence[str], ready: Sequence[str], now: float, utc_s: float) -> str:
    """Say an opening in a sentence: what to do, when, what is probably ready, and that nothing needs anybody before."""
    soon = at_s - now <= SOON_S
    when = "now" if soon else clock_words(at_s - now, utc_s)
    out = [name for name in ready if name not in weigh]
    if not weigh:
        found = f"Take out {listed(out)} {when}: probably ready {'by now' if soon else 'then'}"
    else:
        sure = [name for name in weigh if name in ready]
        found = f"Weigh {listed(weigh)} {when}"
        if out:
            found += f" and take out {listed(out)}"
        if sure or out:
            likely = [*sure, *out]
            found += f"; {listed(likely)} {'is' if len(likely) == 1 else 'are'} probably ready"
        else:
            found += ", so that it is known more surely how far " + ("it is" if len(weigh) == 1 else "they are")
    return found + ("." if soon else "; nothing needs you before.")


def clock_words(ahead_s: float, utc_s: float) -> str:
    """Say a moment by the local clock, to five minutes: 'at 18:40', 'tomorrow at 07:10', 'on Friday at 07:10'."""
    at = datetime.fromtimestamp(round((utc_s + ahead_s) / ROUND_S) * ROUND_S)
    days = (at.date() - datetime.fromtimestamp(utc_s).date()).days
    if days == 0:
        return f"at {at:%H:%M}"
    if days == 1:
        return f"tomorrow at {at:%H:%M}"
    return f"on {at:%A} at {at:%H:%M}" if days < 7 else f"on {at:%Y-%m-%d} at {at:%H:%M}"


def listed(names: Iterable[str]) -> str:
    """Join names: 'a', 'a and b', 'a, b and c'."""
    *rest, last = list(names) or ["nothing"]
    return f"{', '.join(rest)} and {last}" if rest else last
