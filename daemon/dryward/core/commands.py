"""What the engine answers in one tick. Logging is a command too, so that a test can assert it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from dryward.core.frozen import frozen

Severity = Literal["log", "notice", "warning", "alarm", "trip"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """Something happened. ``kind`` is a fixed word, ``subject`` what it happened to, ``text`` a sentence for people.

    ``meaning`` says what it means for the meat and ``advice`` what to do now; both empty for plain log lines.
    """

    kind: str
    subject: str = ""
    severity: Severity = "log"
    text: str
    meaning: str = ""
    advice: str = ""
    value: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Reply:
    """Answer to a request: accepted, or refused and why (thing, value, limit, cure in one sentence)."""

    request_id: str
    accepted: bool
    text: str


@frozen
class Commands:
    """``on`` names every output that should be on; each tick renews its lease by being sent."""

    on: frozenset[str] = frozenset()
    events: tuple[Event, ...] = ()
    replies: tuple[Reply, ...] = ()
    keep: bool = False  # commit the record and a checkpoint at once
