"""The life of an alarm, by ISA-18.2 / IEC 62682, from a table that is data.

A condition must hold for its on-delay before it is raised and be gone for its off-delay before it clears. Trips latch.
For one root cause at most one warning and one trip are told until every alarm of that cause is normal again; what
follows is logged.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal, NamedTuple

from dryward.core.commands import Event, Severity
from dryward.core.faults import FAULTS, Fault

AlarmPhase = Literal["pending", "active", "active-acked", "cleared", "latched", "latched-acked", "normal"]
AlarmTrigger = Literal["raise", "clear", "clear-latching", "return", "ack", "reset"]

TABLE: dict[tuple[AlarmPhase, AlarmTrigger], AlarmPhase] = {
    ("pending", "raise"): "active",
    ("pending", "clear"): "normal",
    ("pending", "clear-latching"): "normal",
    ("active", "ack"): "active-acked",
    ("active", "clear"): "cleared",
    ("active", "clear-latching"): "latched",
    ("active-acked", "clear"): "normal",
    ("active-acked", "clear-latching"): "latched-acked",
    ("cleared", "ack"): "normal",
    ("cleared", "return"): "active",  # re-alarm
    ("latched", "ack"): "latched-acked",
    ("latched", "return"): "active",
    ("latched-acked", "return"): "active",
    ("latched-acked", "reset"): "normal",
}
LONGEST_SHELVE_H = 12.0


class Condition(NamedTuple):
    """Something that is wrong in this tick."""

    key: str
    subject: str = ""
    value: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Alarm:
    """One alarm that is not normal. ``since_s``: when its condition began; ``gone_s``: when it last went away."""

    key: str
    subject: str
    phase: AlarmPhase
    since_s: float
    gone_s: float | None = None
    value: float = 0.0
    told: bool = False
    acked_by: str = ""
    shelved_until_s: float | None = None

    @property
    def fault(self) -> Fault:
        return FAULTS[self.key]

    @property
    def cause(self) -> str:
        """The root cause it belongs to."""
        return self.fault.cause.format(subject=self.subject)

    def say(self) -> tuple[str, str, str]:
        """Return what happened, what it means for the meat, what to do now."""
        fault = self.fault
        return fault.happened.format(subject=self.subject, value=self.value), fault.meaning, fault.advice


@dataclass(frozen=True, slots=True)
class Raised:
    """The alarms after this tick and what was said about them."""

    alarms: tuple[Alarm, ...]
    events: tuple[Event, ...] = ()


def tripped(alarms: tuple[Alarm, ...]) -> tuple[Alarm, ...]:
    """Return the trips in force: raised and not reset, whether or not their condition has gone."""
    return tuple(a for a in alarms if a.phase != "pending" and a.fault.effect != "tell")


def update(alarms: tuple[Alarm, ...], conditions: tuple[Condition, ...], now: float) -> Raised:
    """Move every alarm on by one tick. Without alarms and conditions nothing is made."""
    if not alarms and not conditions:
        return Raised(alarms)
    wrong = {(c.key, c.subject): c for c in conditions}
    events: list[Event] = []
    after: list[Alarm] = []
    for alarm in alarms:
        condition = wrong.pop((alarm.key, alarm.subject), None)
        moved = _gone(alarm, now) if condition is None else _here(alarm, condition, now)
        after.append(moved)
    for (key, subject), condition in wrong.items():
        after.append(_here(Alarm(key=key, subject=subject, phase="pending", since_s=now), condition, now))
    before = {(a.key, a.subject): a.phase for a in alarms}
    for i, alarm in enumerate(after):
        was = before.get((alarm.key, alarm.subject), "normal")
        if alarm.phase != was and was in ("normal", "pending", "cleared", "latched", "latched-acked") and alarm.phase == "active":
            after[i], event = _raised(alarm, after, now)
            events.append(event)
        elif was.startswith("active") and not alarm.phase.startswith("active"):
            events.append(_event(alarm, "alarm-cleared", "log", "No longer: " + alarm.say()[0]))
    kept = tuple(a for a in after if a.phase != "normal")
    return Raised(kept if kept != alarms else alarms, tuple(events))


def _here(alarm: Alarm, condition: Condition, now: float) -> Alarm:
    fault = alarm.fault
    if alarm.phase == "pending":
        if now - alarm.since_s < fault.on_s:
            return replace(alarm, gone_s=None, value=condition.value)
        return replace(alarm, phase=TABLE[("pending", "raise")], gone_s=None, value=condition.value)
    phase = TABLE.get((alarm.phase, "return"), alarm.phase)
    if phase == alarm.phase:
        # A standing alarm keeps the value it was raised with, so that its text does not flicker.
        return alarm if alarm.gone_s is None else replace(alarm, gone_s=None)
    return replace(alarm, phase=phase, since_s=now, gone_s=None, value=condition.value, acked_by="")


def _gone(alarm: Alarm, now: float) -> Alarm:
    fault = alarm.fault
    trigger: AlarmTrigger = "clear" if fault.effect == "tell" else "clear-latching"
    phase = TABLE.get((alarm.phase, trigger))
    if phase is None:
        return alarm
    if alarm.phase == "pending":
        return replace(alarm, phase=phase)
    gone_s = now if alarm.gone_s is None else alarm.gone_s
    if now - gone_s < fault.off_s:
        return alarm if alarm.gone_s is not None else replace(alarm, gone_s=gone_s)
    return replace(alarm, phase=phase, gone_s=gone_s)


def _raised(alarm: Alarm, others: list[Alarm], now: float) -> tuple[Alarm, Event]:
    """Say it, unless its cause has had its messages or it is shelved."""
    said = [o for o in others if o.told and o.cause == alarm.cause]
    shelved = alarm.shelved_until_s is not None and now < alarm.shelved_until_s
    trip = alarm.fault.effect != "tell"
    severity: Severity = "trip" if trip else "alarm"
    silent = shelved or any(o.fault.effect != "tell" or not trip for o in said)
    happened, meaning, advice = alarm.say()
    event = Event(
        kind="trip" if trip else "alarm",
        subject=f"{alarm.key}{':' + alarm.subject if alarm.subject else ''}",
        severity="log" if silent else severity,
        text=happened,
        meaning=meaning,
        advice=advice,
        value=alarm.value,
    )
    return replace(alarm, told=alarm.told or not silent), event


def _event(alarm: Alarm, kind: str, severity: Severity, text: str) -> Event:
    return Event(kind=kind, subject=alarm.key, severity=severity, text=text, value=alarm.value)


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
        if alarm.phase in ("active", "active-acked"):
            return alarms, f"{alarm.key} is still there: {alarm.say()[0]} Put it right first."
        if alarm.phase == "latched":
            return alarms, f"{alarm.key} has not been acknowledged. Use 'dryward ack' with your name first."
    return tuple(a for a in alarms if a.phase != "latched-acked"), None


def shelve(alarms: tuple[Alarm, ...], key: str, hours: float, now: float) -> tuple[tuple[Alarm, ...], str | None]:
    """Keep an alarm silent for a limited time. Trips cannot be shelved. Return the alarms, or the reason why not."""
    if not 0.0 < hours <= LONGEST_SHELVE_H:
        return alarms, f"{hours:g} h: an alarm can be shelved for up to {LONGEST_SHELVE_H:g} h."
    found = [a for a in alarms if a.key == key]
    if not found:
        return alarms, f"There is no alarm {key} now. 'dryward status' lists what there is."
    if found[0].fault.effect != "tell":
        return alarms, f"{key} is a trip: it cannot be shelved, only acknowledged and reset."
    until_s = now + hours * 3600.0
    return tuple(replace(a, shelved_until_s=until_s) if a.key == key else a for a in alarms), None
