"""The walk itself: points taken one by one and written down at once, so that it can be broken off and gone on."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import click

from dryward.doors.calibration_book import Book, Entry, points_of, utc_now
from dryward.doors.calibration_results import Task, number
from dryward.doors.common import fail
from dryward.doors.measuring import NoReading, measure
from dryward.science.figures import BadFigures

if TYPE_CHECKING:
    from dryward.settings import Settings

RESTLESS = {"g": 0.0, "degC": 0.3, "%RH": 1.0}  # a spread above this is told: it does not stand still


class Walk:
    """One calibration of one sensor or scale. ``say`` shows a line to whoever does it."""

    def __init__(self, task: Task, settings: Settings, *, who: str, readings: int, say: Callable[[str], None]) -> None:
        self._task = task
        self._settings = settings
        self._who = who
        self._readings = readings
        self._say = say
        self._book = Book(Path(settings.record.path))

    def drop(self) -> None:
        """Let the points so far count no more."""
        if self._points():
            self._add("dropped")

    def write_down(self, reference: str, shown: str) -> None:
        """Take a point that was measured elsewhere. Ends with 1 where it is none."""
        try:
            value, note = self._task.reference(reference)
            entry = self._add("point", reference=value, shown=number(shown, "what it showed"), note=note)
        except BadFigures as error:
            fail(str(error))
        self._say(f"  {self._short(entry)} (written down)")
        if offset := self._task.subject.offset:
            self._say(
                f"  Taken as the sensor's own reading. 'dryward status' shows it with its offset of {offset:+g} {self._task.unit}: take that off first."
            )

    def take(self, reference: str) -> None:
        """Measure a point now. Ends with 1 where that fails."""
        try:
            self._take(reference)
        except (BadFigures, NoReading) as error:
            fail(str(error))

    def ask(self) -> bool:
        """Go through the points with whoever stands there; return whether the result is wanted."""
        task, name = self._task, self._task.subject.name
        self._say(
            f"{name}: calibration of a {task.kind}. Stop with Ctrl-C when you like; the same command goes on.\n\n{task.guide}\n"
        )
        if so_far := self._points():
            self._say(
                f"Going on with {_points(so_far)} since {so_far[0].utc[:16]}: {', '.join(self._short(e) for e in so_far)}."
            )
        while text := click.prompt(task.question, default="", show_default=False).strip():
            try:
                self._take(text)
            except (BadFigures, NoReading) as error:
                self._say(f"Not taken: {error}")
        return bool(self._points()) and click.confirm("Draw the result from these points?", default=True)

    def finish(self) -> dict[str, Any]:
        """Draw the result, show it and write it down; ends with 1 where the points do not suffice. They are kept then."""
        entries = self._points()
        calibration = self._book.new_name(self._task.subject.name, utc_now())
        try:
            result = self._task.result(points_of(entries), calibration)
        except BadFigures as error:
            kept = f"The {_points(entries)} so far {'is' if len(entries) == 1 else 'are'} kept; go on with the same command."
            fail(
                f"No result yet: {error}. {kept if entries else 'Take points with the same command, without --finish.'}"
            )
        self._add("result", calibration=calibration, values=result.values, note=result.short)
        self._say(f"\n{self._task.subject.name}, {_points(entries)}, by {self._who}: {calibration}\n\n{result.text}")
        self._say(f"\nWritten down in {self._book.path}.")
        return {"calibration": calibration, "name": self._task.subject.name, "kind": self._task.kind, **result.values}

    def _take(self, text: str) -> None:
        reference, note = self._task.reference(text)
        measured = measure(self._settings, self._task.subject, readings=self._readings)
        entry = self._add("point", reference=reference, shown=measured.mean, spread=measured.spread, note=note)
        self._say(f"  {self._short(entry)} (mean of {measured.readings}, standard deviation {measured.spread:.3g})")
        if 0.0 < RESTLESS[self._task.unit] < measured.spread:
            self._say("  It does not stand still: wait, and take this point again; --fresh forgets all points.")

    def _points(self) -> list[Entry]:
        return self._book.open_points(self._task.kind, self._task.subject.name, utc_now())

    def _short(self, entry: Entry) -> str:
        return f"{entry.reference:.5g} {self._task.unit} shows {entry.shown:.8g}"

    def _add(self, line: Literal["point", "result", "dropped"], **more: Any) -> Entry:
        subject = self._task.subject
        entry = Entry(
            line=line,
            utc=utc_now().isoformat(timespec="seconds"),
            who=self._who,
            kind=self._task.kind,
            name=subject.name,
            device=subject.device,
            **more,
        )
        try:
            self._book.add(entry)
        except OSError as error:
            fail(f"{self._book.path} cannot be written: {error}. Nothing was kept.")
        return entry


def _points(entries: Sequence[Entry]) -> str:
    return "1 point" if len(entries) == 1 else f"{len(entries)} points"
