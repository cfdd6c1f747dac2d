"""What is to be said of a chamber's calibrations: made never, too long ago, not in the book, or not yet taken over."""

from __future__ import annotations

import time
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from dryward.doors.calibration_book import Book, utc_now
from dryward.doors.measuring import COUNTING

if TYPE_CHECKING:
    from dryward.core.chamber import Chamber
    from dryward.settings import Settings

LOOK_EVERY_S = 600.0


class Worry(NamedTuple):
    """One thing to say, and what to do."""

    text: str
    cure: str

    def __str__(self) -> str:
        return f"{self.text}. {self.cure}"


def worries(settings: Settings, book: Book, now: datetime) -> Iterator[Worry]:
    """Yield what is to be said of the calibrations of this chamber at ``now``."""
    devices = {d.name: d for d in settings.devices}
    for scale in settings.chamber.scales:
        device = devices[scale.device]
        if device.kind not in COUNTING:
            continue
        again = f"Do it with 'dryward calibrate scale {scale.name}'."
        if not device.options.get("g_per_count"):
            yield Worry(f"{scale.name} was never calibrated: it gives counts and no weight", again)
            continue
        named = str(device.options.get("calibration", ""))
        made = [e.calibration for e in book.of("scale", scale.name) if e.line == "result"]
        if named not in made:
            what = (
                f"names the calibration {named}, which is not in {book.path.name}" if named else "names no calibration"
            )
            yield Worry(f"{scale.name}: the chamber file {what}: nobody can say how old it is", again)
        elif named != made[-1]:
            cure = f"Take its lines over into [devices.{device.name}], or calibrate anew."
            yield Worry(f"{scale.name} is weighed by {named}; {made[-1]} is newer", cure)
    yield from too_old(settings.chamber, book, now)


def too_old(chamber: Chamber, book: Book, at: datetime) -> Iterator[Worry]:
    """Yield the calibrations of what is in this chamber that were older than they should be at that moment."""
    here = {s.name for s in chamber.sensors} | {s.name for s in chamber.scales}
    for name, text, cure in book.old(at):
        if name in here:
            yield Worry(text, cure)


class CalibrationWatch:
    """The worries of a running daemon, as sentences. The book is read again every ten minutes, and when it has changed."""

    def __init__(self, settings: Settings) -> None:
        self._settings = settings
        self._seen: tuple[int, int] | None = None
        self._told: list[str] = []

    def told(self) -> list[str]:
        """Return what there is to say; an unreadable book is one of those things."""
        record = Path(self._settings.record.path)
        try:
            book = Book.path_of(record)
            seen = (book.stat().st_mtime_ns if book.exists() else 0, int(time.monotonic() // LOOK_EVERY_S))
            if seen != self._seen:
                self._told = [str(w) for w in worries(self._settings, Book(record), utc_now())]
                self._seen = seen
        except OSError as error:
            return [f"The book of calibrations cannot be read: {error}."]
        return self._told
