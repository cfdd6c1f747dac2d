"""Notes while the service runs: judged by the record, handed to the loop, written by the one writer."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Sequence
from pathlib import Path
from threading import Event
from time import monotonic

from dryward.record.lines import NoSuchRun
from dryward.record.moments import Mark, NoteWritten
from dryward.record.notebook import BadNote, judged
from dryward.record.queries import Record

ANSWER_S = 10.0


class Notebook:
    """``mark`` puts a mark on record with the next tick and tells when it has been given to the writer."""

    def __init__(self, record: Path, mark: Callable[[Mark], Event]) -> None:
        self._record = record
        self._mark = mark

    def write(self, notes: Sequence[NoteWritten]) -> str:
        """Write notes and return what was done. Raises BadNote with the reason when they are not taken."""
        try:
            with Record(self._record) as past:
                judged(past, notes)
        except (NoSuchRun, BadNote) as error:
            raise BadNote(str(error)) from error
        except (sqlite3.Error, OSError) as error:
            raise BadNote(f"The record cannot be read, nothing was written: {error}") from error
        deadline = monotonic() + ANSWER_S
        given = [self._mark(note) for note in notes]
        if not all(event.wait(max(0.0, deadline - monotonic())) for event in given):
            raise BadNote("The daemon did not take the note in time: it may hang. Look at 'dryward status'.")
        return f"Noted in run {notes[0].run_id}."
