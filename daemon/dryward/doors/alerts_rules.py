"""Who is told what, and when: severity, quiet hours, what cannot wait, what is said again until somebody has heard it.

Pure rules over the engine's events and state. The engine itself sees to it that one cause is told at most twice, as a
warning and as a trip; what is said again here is the same trip, for as long as nobody acknowledges it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, time, timedelta
from typing import Literal, Protocol

from dryward.core.alarms import Alarm
from dryward.core.commands import Event, Severity
from dryward.core.engine import held_after_outage, held_by_outage
from dryward.core.phases import HELD, MAY_HEAT
from dryward.core.state import State
from dryward.record.outbox import GRAVITY
from dryward.settings import AlertSettings

Reach = Literal["people", "urgent"]
OUTAGE = "held-after-outage"  # no alarm's cause
UNHEARD = frozenset({"active", "latched"})
"""Phases of an alarm whose trouble stands or has tripped, and that nobody has acknowledged."""


@dataclass(frozen=True, slots=True)
class Told:
    """An event to be told to ``reach``, not before ``due_utc_s``; ``again``: what is put before its text."""

    event: Event
    reach: frozenset[Reach]
    due_utc_s: float = 0.0
    again: str = ""


class Opening(Protocol):
    """The next opening as it is planned from the forecasts; ``planned``: every piece that some opening is planned for."""

    @property
    def at_s(self) -> float: ...

    @property
    def weigh(self) -> tuple[str, ...]: ...

    @property
    def planned(self) -> tuple[str, ...]: ...

    @property
    def text(self) -> str: ...


class Rules:
    """Judges events as they come (``heard``) and the state from time to time (``look``). Chamber seconds come last."""

    def __init__(self, settings: AlertSettings) -> None:
        self._settings = settings
        self._said: dict[str, int] = {}  # cause of a trip: how often it was said again
        self._raised: set[str] = set()  # causes that the second list has been called for
        self._weigh_said: dict[str, int] = {}
        self._opening_said: dict[
            str, tuple[float, float]
        ] = {}  # piece: when it was weighed last, when it was asked for
        self._held_since_s: float | None = None
        self._held: Event | None = None
        self._looked = False

    def heard(self, events: Iterable[Event], moment: datetime, now: float) -> list[Told]:
        """Return what is told of the events of one tick. ``moment``: local time, without a zone."""
        told = []
        for event in events:
            if event.kind == OUTAGE:
                self._held, self._held_since_s = event, now
            if GRAVITY.index(event.severity) >= GRAVITY.index(self._settings.least):
                told.append(self._at_its_time(event, moment))
        return told

    def look(self, state: State, moment: datetime, now: float, due: Opening | None = None) -> list[Told]:
        """Return what must be said again, raised to more people, or asked for now. ``due``: the next opening, if one is planned."""
        opening = [] if due is None else self._opening(due, state, moment, now)
        planned = () if due is None else due.planned
        late = self._weigh_in(state, moment, planned, now)
        return [*self._unheard(state, now), *self._held_still(state, now), *opening, *late]

    def _at_its_time(self, event: Event, moment: datetime) -> Told:
        until = quiet_until(moment, self._settings.quiet_from, self._settings.quiet_to)
        if until is None:
            return Told(event, frozenset({"people"}))
        if event.severity in ("alarm", "trip"):
            return Told(event, frozenset({"people", "urgent"}))  # it cannot wait, and whoever sleeps may not hear it
        return Told(event, frozenset({"people"}), until.timestamp())

    def _unheard(self, state: State, now: float) -> list[Told]:
        told: list[Told] = []
        unheard: dict[str, Alarm] = {}
        for alarm in state.alarms:
            if alarm.phase in UNHEARD and (alarm.fault.trips or alarm.fault.severity == "alarm"):
                unheard.setdefault(alarm.cause, alarm)
                if alarm.fault.trips and not unheard[alarm.cause].fault.trips:
                    unheard[alarm.cause] = alarm
        for known in (self._said.keys() | self._raised) - unheard.keys() - {OUTAGE}:
            self._said.pop(known, None)
            self._raised.discard(known)
        for cause, alarm in unheard.items():
            waited_s = now - alarm.since_s
            event = _event(alarm)
            told += self._again(cause, event, waited_s, repeats=alarm.fault.trips)
        return told

    def _held_still(self, state: State, now: float) -> list[Told]:
        """A run that waits for somebody's word after an outage is said again like a trip."""
        first, self._looked = not self._looked, True
        if first and self._held is None and held_by_outage(state.run):
            text = f"dryward was started again while the run is held: {state.run.why}. The heat is off."
            self._held, self._held_since_s = held_after_outage(state.run, text), now
        if self._held is None or self._held_since_s is None:
            return []
        if state.run.phase not in HELD:
            self._held = self._held_since_s = None
            self._said.pop(OUTAGE, None)
            self._raised.discard(OUTAGE)
            return []
        return self._again(OUTAGE, self._held, now - self._held_since_s, repeats=True)

    def _again(self, cause: str, event: Event, waited_s: float, *, repeats: bool) -> list[Told]:
        """Say something once more when its time has come; raise it to more people when it has waited too long."""
        s = self._settings
        minutes = f"{waited_s / 60.0:.0f} min ago, and nobody has acknowledged it: "
        late = waited_s >= s.urgent_after_min * 60.0
        count = int(waited_s // (s.repeat_min * 60.0)) if repeats and s.repeat_min else 0
        if count > self._said.get(cause, 0):
            self._said[cause] = count
            self._raised |= {cause} if late else set()
            return [Told(event, frozenset({"people", "urgent"} if late else {"people"}), again=minutes)]
        if late and cause not in self._raised:
            self._raised.add(cause)
            return [Told(event, frozenset({"urgent"}), again=minutes)]
        return []

    def _opening(self, due: Opening, state: State, moment: datetime, now: float) -> list[Told]:
        """Ask for the weigh-ins of a planned opening when its time has come, and again when nobody comes."""
        every_s = self._settings.weigh_every_h * 3600.0
        if not every_s or now < due.at_s or state.run.phase not in MAY_HEAT:
            return []
        weighed = {p.piece.name: p.weighed_s for p in state.pieces}
        asked = [name for name in due.weigh if name in weighed]
        fresh = False
        for name in asked:
            weighed_s, said_s = self._opening_said.get(name, (-1.0, -1e9))
            if weighed_s != weighed[name] or now - said_s >= every_s:
                self._opening_said[name] = weighed[name], now
                fresh = True
        return [self._at_its_time(opening_due(asked, due.text), moment)] if fresh else []

    def _weigh_in(self, state: State, moment: datetime, planned: Sequence[str], now: float) -> list[Told]:
        every_s = self._settings.weigh_every_h * 3600.0
        if not every_s or state.run.phase not in MAY_HEAT:
            return []
        due: list[str] = []
        oldest_s = 0.0
        for piece in state.pieces:
            name = piece.piece.name
            if piece.status != "drying" or piece.piece.scale is not None or name in planned:
                continue
            age_s = now - max(state.run.started_s, piece.weighed_s)
            times = int(age_s // every_s)
            if times > self._weigh_said.get(name, 0):
                due.append(name)
                oldest_s = max(oldest_s, age_s)
            self._weigh_said[name] = times
        return [self._at_its_time(weigh_in_due(due, oldest_s), moment)] if due else []


def opening_due(names: list[str], text: str) -> Event:
    """Ask for the weigh-ins that were planned for now."""
    return Event(
        kind="weigh-in-due",
        subject=names[0] if len(names) == 1 else "",
        severity="notice",
        text=text,
        meaning="Later, a piece may have dried past its target.",
        advice=_enter(names),
    )


def _enter(names: list[str]) -> str:
    return f"Weigh and enter: {'; '.join(f'dryward weigh {name} GRAMS' for name in names[:4])}."


def weigh_in_due(names: list[str], age_s: float) -> Event:
    """Ask for a weight of pieces that are weighed by hand."""
    listed = ", ".join(names)
    return Event(
        kind="weigh-in-due",
        subject=names[0] if len(names) == 1 else "",
        severity="notice",
        text=f"Weigh {listed}: no weight for {age_s / 3600.0:.0f} hours.",
        meaning="Without a weight nobody knows how far it has dried, and it may pass its target.",
        advice=_enter(names),
    )


def quiet_until(moment: datetime, quiet_from: str, quiet_to: str) -> datetime | None:
    """Return when the quiet hours that ``moment`` lies in are over, both in local time; None outside of them."""
    if not quiet_from or not quiet_to:
        return None
    begin, end = time.fromisoformat(quiet_from), time.fromisoformat(quiet_to)
    clock = moment.time()
    inside = begin <= clock < end if begin <= end else clock >= begin or clock < end
    if not inside:
        return None
    return datetime.combine(moment.date() + timedelta(days=0 if clock < end else 1), end.replace(fold=moment.fold))


def _event(alarm: Alarm) -> Event:
    happened, meaning, advice = alarm.say()
    severity: Severity = "trip" if alarm.fault.trips else alarm.fault.severity
    subject = f"{alarm.key}:{alarm.subject}" if alarm.subject else alarm.key
    kind = "trip" if alarm.fault.trips else "alarm"
    return Event(
        kind=kind, subject=subject, severity=severity, text=happened, meaning=meaning, advice=advice, value=alarm.value
    )


def with_again(told: Told) -> Event:
    """Return the event with what is put before its text."""
    return replace(told.event, text=f"{told.again}{told.event.text}") if told.again else told.event
