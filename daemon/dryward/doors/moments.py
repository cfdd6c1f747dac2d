"""Times as people write them."""

from __future__ import annotations

from datetime import datetime, timedelta


class Unclear(ValueError):
    """A time that cannot be understood, or lies in the past."""


def local_moment(text: str) -> float:
    """Return the POSIX time of a local time: ``06:30`` (the next one) or ``2026-03-01T06:30``."""
    now = datetime.now().astimezone()
    try:
        if len(text) <= 5:
            clock = datetime.strptime(text, "%H:%M")
            moment = now.replace(hour=clock.hour, minute=clock.minute, second=0, microsecond=0)
            if moment <= now:
                moment += timedelta(days=1)
        else:
            moment = datetime.fromisoformat(text).astimezone()
    except ValueError:
        raise Unclear(f"{text!r} is no time: write 06:30 or 2026-03-01T06:30.") from None
    if moment <= now:
        raise Unclear(f"{text} is in the past.")
    return moment.timestamp()
