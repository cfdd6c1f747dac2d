"""A message for people: what happened, what it means for the meat, what to do, and when. Read aloud at two in the morning."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from types import MappingProxyType

from dryward.core.commands import Event, Severity

WORDS: Mapping[Severity, str] = MappingProxyType(
    {"trip": "TRIP", "alarm": "ALARM", "warning": "warning", "notice": "news", "log": "news"}
)
LONGEST = 1500  # characters; some messengers cut at about 1600


def title(chamber: str, severity: Severity) -> str:
    """Return the line that shows on a locked phone."""
    return f"{chamber}: {WORDS[severity]}"


def body(event: Event, moment: datetime, run_id: str) -> str:
    """Return the message. ``moment``: local time of the event."""
    when = f"{moment:%a %d %b, %H:%M}{f', run {run_id}' if run_id else ''}"
    lines = [line for line in (event.text, event.meaning, event.advice) if line]
    text = "\n".join(lines)
    if len(text) > LONGEST:
        text = text[: LONGEST - 3] + "..."
    return f"{text}\n({when})"
