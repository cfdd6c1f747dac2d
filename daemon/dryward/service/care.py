"""The nightly care of the record as the chamber's file wants it; what somebody has to see to is told to people, not only logged."""

from __future__ import annotations

import logging
from collections.abc import Callable
from pathlib import Path

from dryward.core.commands import Event
from dryward.record.nightly import nightly
from dryward.record.writer import RecordWriter
from dryward.settings import RecordSettings

log = logging.getLogger("dryward")


def care(
    record: Path,
    writer: RecordWriter,
    settings: RecordSettings,
    say: Callable[[Event], None] | None,
    *,
    at_utc_s: float,
) -> None:
    """Back the record up, copy that to another disk, thin what is old; ``say`` tells people and broker what went wrong."""
    night = nightly(
        record,
        writer,
        folder=record.parent / "backup",
        keep_days=settings.keep_days,
        at_utc_s=at_utc_s,
        away=Path(settings.copy_to) if settings.copy_to else None,
    )
    for sentence in night.done:
        log.info("%s", sentence)
    for worry in night.worries:
        log.warning("%s", worry)
        if say is not None:
            say(_worry(worry))


def _worry(sentence: str) -> Event:
    return Event(
        kind="record-care",
        severity="warning",
        text=sentence,
        meaning="Drying goes on. Without a backup a dead card takes the record of every run along.",
        advice="See that the disk is there, writable and not full; it is tried again tomorrow night.",
    )
