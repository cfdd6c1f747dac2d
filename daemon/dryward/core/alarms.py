"""The life of an alarm, by ISA-18.2 / IEC 62682, from a table that is data.

A condition must hold for its on-delay before it is raised and be gone for its off-delay before it clears; inside a
limit's dead band it goes on but does not begin. Trips latch. One root cause is told at most twice: once as a warning
and once as a trip; what else belongs to it is logged until all of it is normal again.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal, NamedTuple

from dryward.core.commands import Event, Severity
from dryward.core.fault import Fault
from dryward.core.faults import FAULTS
from dryward.core.frozen import frozen

AlarmPhase = Literal["normal", "pending", "active", "active-acked", "cleared", "latched", "latched-acked", "shelved"]
AlarmTrigger = Literal["raise", "clear", "clear-latching", "return", "ack", "reset", "shelve", "unshelve"]

TABLE: dict[tuple[AlarmPhase, AlarmTrigger], AlarmPhase] = {
    ("pending", "raise"): "active",
    ("pending", "clear"): "normal",
    ("pending", "clear-latching"): "normal",
    ("active", "ack"): "active-acked",
    ("active", "clear"): "cleared",
    ("active", "clear-latching"): "latched",
    ("active", "shelve"): "shelved",
    ("active-acked", "clear"): "normal",
    ("active-acked", "clear-latching"): "latched-acked",
    ("active-acked", "shelve"): "shelved",
    ("cleared", "ack"): "normal",
    ("cleared", "return"): "active",
    ("cleared", "shelve"): "shelved",
    ("latched", "ack"): "latched-acked",
    ("latched", "return"): "active",
    ("latched-acked", "return"): "active",
    ("latched-acked", "reset"): "normal",
    ("shelved", "unshelve"): "normal",  # and raised anew in the next tick if it is still there
}
UNSEEN: frozenset[AlarmPhase] = frozenset({"pending", "shelved"})
"""Nobody is troubled by these: not yet raised, or put aside by somebody for a time."""
LONGEST_SHELVE_H = 12.0


class Condition(NamedTuple):
    """Something that is wrong in this tick. ``near``: only within the dead band, so that it keeps an alarm but begins none."""

    key: str
    subject: str = ""
    value: float = 0.0
    detail: str = ""
    near: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Alarm:
    """One alarm that is not normal. ``since_s``: when its condition began; ``gone_s``: when it last went away.

    ``told`` is what people have been told about its root cause.
    """

    key: str
    subject: str
    phase: AlarmPhase
    since_s: float
    gone_s: float | None = None
    value: float = 0.0
    detail: str = ""
    told: Literal["", "warning", "trip"] = ""
    acked_by: str = ""
    shelved_until_s: float | None = None

    @property
    def fault(self) -> Fault:
        """The row of the table that it is an instance of."""
        return FAULTS[self.key]

    @property
    def cause(self) -> str:
        """The root cause it belongs to."""
        return self.fault.cause.format(subject=self.subject)

    def say(self) -> tuple[str, str, str]:
        """Return what happened, what it means for the meat, what to do now."""
        f = self.fault
        happened, meaning, advice = (
            line.format(subject=self.subject, value=self.value, detail=self.detail)
            for line in (f.happened, f.meaning, f.advice)
        )
        return happened, meaning, advice


@frozen
class Raised:
    """The alarms after this tick and what was said about them."""

    alarms: tuple[Alarm, ...]
    events: tuple[Event, ...] = ()


def tripped(alarms: tuple[Alarm, ...]) -> tuple[Alarm, ...]:
    """Return the trips in force: raised and not reset, whether or not their condition has gone."""
    return tuple([a for a in alarms if a.phase != "pending" and a.fault.trips])


def update(alarms: tuple[Alarm, ...], conditions: tuple[Condition, ...], now: float) -> Raised:
    """Move every alarm on by one tick. Without alarms and conditions nothing is made."""
    if not alarms and not conditions:
        return Raised(alarms)
    wrong = {(c.key, c.subject): c for c in conditions}
    was: list[AlarmPhase] = [a.phase for a in alarms]
    after = [_moved(a, wrong.pop((a.key, a.subject), None), now) for a in alarms]
    for (key, subject), condition in wrong.items():
        if not condition.near:
            was.append("normal")
            after.append(_moved(Alarm(key=key, subject=subject, phase="pending", since_s=now), condition, now))
    events: list[Event] = []
    # Trips first: whoever is told of a trip need not be told the smaller thing too.
    for i in sorted(range(len(after)), key=lambda k: not after[k].fault.trips):
        begins, began = after[i].phase.startswith("active"), was[i].startswith("active")
        if begins and not began:
            after[i], event = _told(after[i], after)
            events.append(event)
        elif began and not begins:
            events.append(
                Event(
                    kind="alarm-cleared",
                    subject=after[i].key,
                    text=f"It is over: {after[i].say()[0]}",
                    value=after[i].value,
                )
            )
    kept = tuple([a for a in after if a.phase != "normal"])
    return Raised(alarms if kept == alarms else kept, tuple(events))


def _moved(alarm: Alarm, condition: Condition | None, now: float) -> Alarm:
    """Return the alarm after this tick; ``condition`` is None when what it tells of is not there."""
    if alarm.phase == "shelved":
        over = alarm.shelved_until_s is None or now >= alarm.shelved_until_s
        return replace(alarm, phase=TABLE[("shelved", "unshelve")]) if over else alarm
    if condition is not None and not (condition.near and alarm.phase == "pending"):
        return _here(alarm, condition, now)
    return _gone(alarm, now)


def _here(alarm: Alarm, condition: Condition, now: float) -> Alarm:
    trigger: AlarmTrigger = "return"
    if alarm.phase == "pending":
        if now - alarm.since_s < alarm.fault.on_s:
            return alarm
        trigger = "raise"
    phase = TABLE.get((alarm.phase, trigger))
    if phase is None:
        # A standing alarm keeps the figures it was raised with, so that its text does not flicker.
        return alarm if alarm.gone_s is None else replace(alarm, gone_s=None)
    since_s = alarm.since_s if trigger == "raise" else now
    return replace(
        alarm, phase=phase, since_s=since_s, gone_s=None, value=condition.value, detail=condition.detail, acked_by=""
    )


def _gone(alarm: Alarm, now: float) -> Alarm:
    phase = TABLE.get((alarm.phase, "clear-latching" if alarm.fault.trips else "clear"))
    if phase is None:
        return alarm
    gone_s = now if alarm.gone_s is None else alarm.gone_s
    if alarm.phase == "pending" or now - gone_s >= alarm.fault.off_s:
        return replace(alarm, phase=phase, gone_s=gone_s)
    return replace(alarm, gone_s=gone_s) if alarm.gone_s is None else alarm


def _told(alarm: Alarm, others: list[Alarm]) -> tuple[Alarm, Event]:
    """Say it aloud, unless its cause has had its message of this kind already."""
    known = {o.told for o in others if o.cause == alarm.cause}
    trips = alarm.fault.trips
    silent = "trip" in known or ("warning" in known and not trips)
    severity: Severity = "log" if silent else "trip" if trips else alarm.fault.severity
    happened, meaning, advice = alarm.say()
    event = Event(
        kind="trip" if trips else "alarm",
        subject=f"{alarm.key}:{alarm.subject}" if alarm.subject else alarm.key,
        severity=severity,
        text=happened,
        meaning=meaning,
        advice=advice,
        value=alarm.value,
    )
    return replace(alarm, told="trip" if trips or "trip" in known else "warning"), event


def acknowledge(alarms: tuple[Alarm, ...], wanted: str, who: str) -> tuple[tuple[Alarm, ...], tuple[Alarm, ...]]:
    """Acknowledge ``wanted`` (a key, or 'all'). Return the alarms after it and those that changed."""
    after: list[Alarm] = []
    changed: list[Alarm] = []
    for alarm in alarms:
        phase = TABLE.get((alarm.phase, "ack")) if wanted in ("all", alarm.key) else None
        if phase is None:
            after.append(alarm)
            continue
        changed.append(replace(alarm, phase=phase, acked_by=who))
        if phase != "normal":
            after.append(changed[-1])
    return tuple(after), tuple(changed)


def reset(alarms: tuple[Alarm, ...]) -> tuple[tuple[Alarm, ...], str | None]:
    """Clear the latched trips. Return the alarms after it, or the reason why a trip cannot be reset."""
    for alarm in tripped(alarms):
        if TABLE.get((alarm.phase, "reset")) is None:
            if alarm.phase == "latched":
                return alarms, f"{alarm.key} has not been acknowledged. Use 'dryward ack' with your name first."
            return alarms, f"{alarm.key} is still there: {alarm.say()[0]} Put it right first."
    return tuple([a for a in alarms if not a.fault.trips]), None


def shelve(alarms: tuple[Alarm, ...], key: str, hours: float, now: float) -> tuple[tuple[Alarm, ...], str | None]:
    """Keep an alarm silent for a limited time. Trips cannot be shelved. Return the alarms, or the reason why not."""
    if not 0.0 < hours <= LONGEST_SHELVE_H:
        return alarms, f"{hours:g} h: an alarm can be shelved for more than 0 and up to {LONGEST_SHELVE_H:g} h."
    found = [a for a in alarms if a.key == key and a.phase != "pending"]
    if not found:
        return alarms, f"There is no alarm {key} now. 'dryward status' lists what there is."
    if found[0].fault.trips:
        return alarms, f"{key} is a trip: it cannot be shelved, only acknowledged and reset."
    until_s = now + hours * 3600.0
    return tuple([replace(a, phase="shelved", shelved_until_s=until_s) if a in found else a for a in alarms]), None
