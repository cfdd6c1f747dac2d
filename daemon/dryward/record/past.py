"""A recorded run as the engine lived it: every executed tick with its inputs, and what was decided."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import chain
from sqlite3 import Connection
from typing import Any

from dryward.core.chamber import Chamber
from dryward.core.commands import Commands, Event, Reply
from dryward.core.inputs import NOTHING, Ask, Inputs, Notice, Reading, Request, Weighing
from dryward.record.checkpoint import from_json
from dryward.record.damage import Garbled
from dryward.record.lines import Run, Stretch
from dryward.record.rows import SEQ_BITS, whole


def stretches(conn: Connection, run: Run) -> list[Stretch]:
    """Return the sessions the run went through, cut to the run."""
    rows = conn.execute(
        "SELECT chamber, version, period_s, first_tick, last_tick, start_state FROM session"
        " WHERE first_tick <= ? AND last_tick >= ? AND last_tick >= first_tick ORDER BY first_tick",
        (run.last_tick, run.start_tick),
    ).fetchall()
    return [
        Stretch(
            chamber=from_json(Chamber, chamber),
            version=version,
            period_s=period_s,
            first_tick=max(first, run.start_tick),
            last_tick=min(last, run.last_tick),
            start_state=run.start_state if first <= run.start_tick and run.start_state is not None else state,
        )
        for chamber, version, period_s, first, last, state in rows
    ]


def executed(conn: Connection, stretch: Stretch) -> Iterator[int]:
    """Yield the ticks of a stretch that were executed."""
    at = stretch.first_tick
    gaps = conn.execute(
        "SELECT from_tick, to_tick FROM skipped WHERE to_tick >= ? AND from_tick <= ? ORDER BY from_tick",
        (at, stretch.last_tick),
    ).fetchall()
    for gap_from, gap_to in gaps:
        yield from range(at, gap_from)
        at = max(at, gap_to + 1)
    yield from range(at, stretch.last_tick + 1)


def inputs(conn: Connection, parts: list[Stretch]) -> Iterator[tuple[int, Inputs]]:
    """Yield every executed tick with its inputs."""
    if not parts:
        return
    first, last = parts[0].first_tick, parts[-1].last_tick
    readings, weighings = _ByTick(_readings(conn, first, last)), _ByTick(_weighings(conn, first, last))
    requests, notices = _ByTick(_requests(conn, first, last)), _ByTick(_notices(conn, first, last))
    for tick in chain.from_iterable(executed(conn, part) for part in parts):
        r, w, q, n = readings.at(tick), weighings.at(tick), requests.at(tick), notices.at(tick)
        yield tick, Inputs(readings=r, weighings=w, requests=q, notices=n) if r or w or q or n else NOTHING


def decisions(conn: Connection, parts: list[Stretch]) -> Iterator[tuple[int, Commands]]:
    """Yield every executed tick with what was decided; a session begins with all outputs off."""
    if not parts:
        return
    first, last = parts[0].first_tick, parts[-1].last_tick
    switched = _ByTick(
        (tick, (output, is_on))
        for tick, output, is_on in conn.execute(
            "SELECT tick, output, is_on FROM output_change WHERE tick BETWEEN ? AND ? ORDER BY tick", (first, last)
        )
    )
    told, answered = _ByTick(events(conn, first, last)), _ByTick(_replies(conn, first, last))
    for number, part in enumerate(parts):
        on = frozenset() if number else on_before(conn, first)
        quiet = Commands(on=on)
        for tick in executed(conn, part):
            changes = dict(switched.at(tick))
            if changes:
                on = frozenset(name for name in on | changes.keys() if changes.get(name, True))
                quiet = Commands(on=on)
            e, a = told.at(tick), answered.at(tick)
            yield tick, Commands(on=on, events=e, replies=a) if e or a else quiet


def events(conn: Connection, first: int, last: int) -> Iterator[tuple[int, Event]]:
    """Yield (tick, event) in order."""
    for tick, kind, subject, severity, text, meaning, advice, value, word in conn.execute(
        "SELECT tick, kind, subject, severity, text, meaning, advice, value, value_odd FROM event WHERE tick BETWEEN ? AND ? ORDER BY tick, seq",
        (first, last),
    ):
        yield (
            tick,
            Event(
                kind=kind,
                subject=subject,
                severity=severity,
                text=text,
                meaning=meaning,
                advice=advice,
                value=whole(value, word),
            ),
        )


def on_before(conn: Connection, tick: int) -> frozenset[str]:
    """Return the outputs that were on just before ``tick``."""
    rows = conn.execute("SELECT output, is_on, max(tick) FROM output_change WHERE tick < ? GROUP BY output", (tick,))
    return frozenset(output for output, is_on, _ in rows if is_on)


def reading_ids(first: int, last: int) -> tuple[int, int]:
    """Return the first reading_id of these ticks and the first beyond them."""
    return first << SEQ_BITS, (last + 1) << SEQ_BITS


def number(value: float | None) -> float:
    """Return a float that is never None: NULL stands for not-a-number."""
    return float("nan") if value is None else value


class _Names(dict[int, str]):
    """The names of the channels; a reading of any other is damage."""

    def __missing__(self, channel: object) -> str:
        raise Garbled(f"a reading is of channel {channel}, which there is not")


def _readings(conn: Connection, first: int, last: int) -> Iterator[tuple[int, Reading]]:
    names = _Names(conn.execute("SELECT channel_id, name FROM channel").fetchall())
    notes = {
        note: (fault, word) for note, fault, word in conn.execute("SELECT note_id, fault, value_odd FROM reading_note")
    }
    for reading_id, channel, value, sampled_s, note in conn.execute(
        "SELECT reading_id, channel_id, value, sampled_s, note_id FROM reading WHERE reading_id >= ? AND reading_id < ? ORDER BY reading_id",
        reading_ids(first, last),
    ):
        if note is None and sampled_s is not None:
            yield reading_id >> SEQ_BITS, Reading(names[channel], value, sampled_s)
        else:
            fault, word = notes.get(note, ("", ""))
            yield reading_id >> SEQ_BITS, Reading(names[channel], whole(value, word), number(sampled_s), fault)


def _weighings(conn: Connection, first: int, last: int) -> Iterator[tuple[int, Weighing]]:
    for tick, piece, weight_g, word, sampled_s in conn.execute(
        "SELECT tick, piece, weight_g, weight_odd, sampled_s FROM weighing WHERE tick BETWEEN ? AND ? ORDER BY tick, seq",
        (first, last),
    ):
        yield tick, Weighing(piece, number(whole(weight_g, word)), number(sampled_s))


def _requests(conn: Connection, first: int, last: int) -> Iterator[tuple[int, Request]]:
    ask_type: Any = Ask
    for tick, request_id, ask, who, origin in conn.execute(
        "SELECT tick, request_id, ask, who, origin FROM request WHERE tick BETWEEN ? AND ? ORDER BY tick, seq",
        (first, last),
    ):
        yield tick, Request(request_id=request_id, ask=from_json(ask_type, ask), who=who, origin=origin)


def _notices(conn: Connection, first: int, last: int) -> Iterator[tuple[int, Notice]]:
    for tick, kind, value, word, text in conn.execute(
        "SELECT tick, kind, value, value_odd, text FROM notice WHERE tick BETWEEN ? AND ? ORDER BY tick, seq",
        (first, last),
    ):
        yield tick, Notice(kind, number(whole(value, word)), text)


def _replies(conn: Connection, first: int, last: int) -> Iterator[tuple[int, Reply]]:
    for tick, request_id, accepted, text in conn.execute(
        "SELECT tick, request_id, accepted, text FROM reply WHERE tick BETWEEN ? AND ? ORDER BY tick, seq",
        (first, last),
    ):
        yield tick, Reply(request_id=request_id, accepted=bool(accepted), text=text)


class _ByTick:
    """Hand out the items of one tick after another in rising order, without holding a whole run in memory."""

    def __init__(self, pairs: Iterable[tuple[int, Any]]) -> None:
        self._pairs = iter(pairs)
        self._ahead: tuple[int, Any] | None = next(self._pairs, None)

    def at(self, tick: int) -> tuple[Any, ...]:
        """Return the items of ``tick``; what lies before it is passed over."""
        ahead = self._ahead
        if ahead is None or ahead[0] > tick:
            return ()
        found = []
        while ahead is not None and ahead[0] <= tick:
            if ahead[0] == tick:
                found.append(ahead[1])
            ahead = next(self._pairs, None)
        self._ahead = ahead
        return tuple(found)
