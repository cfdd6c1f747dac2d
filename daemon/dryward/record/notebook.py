"""What people write about a run or a piece: judged, found again, and put on record while no service runs.

A note is only ever added. Tags are notes too; the newest word about a tag holds, and ``-pepper`` takes ``pepper`` back.
"""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterable, Mapping, Sequence
from contextlib import closing
from pathlib import Path

from sqlite_utils import Database

from dryward.record.lines import NoteLine
from dryward.record.marks import write_mark
from dryward.record.moments import NoteWritten, utc_text
from dryward.record.queries import Record
from dryward.record.schema import migrate

LONGEST_TEXT, LONGEST_NAME, LONGEST_TAG = 4000, 400, 32
MOST = 20
TASTING = "tasting"
_TAG = re.compile(r"-?\w[\w-]*")


class BadNote(ValueError):
    """A note that is not taken; the text says why and what to do."""


def judged(record: Record, notes: Sequence[NoteWritten]) -> Sequence[NoteWritten]:
    """Return the notes when they may be written. Raises BadNote, and NoSuchRun for a run that is not on record."""
    if not 1 <= len(notes) <= MOST:
        raise BadNote(f"There is nothing to write: give a text, a photo or a tag (at most {MOST} at a time).")
    for note in notes:
        record.run(note.run_id)
        known = [p.name for p in record.pieces(note.run_id)]
        if note.piece and note.piece not in known:
            raise BadNote(f"Run {note.run_id} has no piece '{note.piece}'; it has: {', '.join(known) or 'none'}.")
        if not (note.text.strip() or note.photo or note.tags):
            raise BadNote("The note is empty: give a text, a photo or a tag.")
        for words, longest in ((note.text, LONGEST_TEXT), (note.photo, LONGEST_NAME), (note.who, LONGEST_NAME)):
            if len(words) > longest:
                raise BadNote(f"That is {len(words)} characters, {longest} are taken: shorten it.")
        for tag in note.tags:
            if len(tag) > LONGEST_TAG or not _TAG.fullmatch(tag):
                raise BadNote(f"'{tag}' is no tag: take letters, digits and hyphens, at most {LONGEST_TAG} of them.")
    return notes


def written(
    run_id: str, text: str, *, who: str, piece: str = "", photos: Sequence[str] = (), tags: Sequence[str] = ()
) -> tuple[NoteWritten, ...]:
    """Return a note; each photo after the first is a note of its own."""
    first, *others = photos or ("",)
    note = NoteWritten(run_id=run_id, text=text.strip(), who=who, piece=piece, photo=first, tags=tuple(tags))
    return (note, *(NoteWritten(run_id=run_id, text="", who=who, piece=piece, photo=name) for name in others))


def write_down(path: Path, notes: Sequence[NoteWritten], *, at_utc_s: float) -> None:
    """Put notes into a record that no service writes; the caller holds its lock. Raises BadNote, NoSuchRun, sqlite3.Error, OSError."""
    with Record(path) as record:
        judged(record, notes)
    with closing(sqlite3.connect(path, isolation_level=None)) as conn:
        conn.execute("PRAGMA journal_mode = WAL")
        conn.execute("PRAGMA synchronous = FULL")
        db = Database(conn)
        migrate(db)
        with db.atomic():
            for note in notes:
                write_mark(conn, note, 0, utc_text(at_utc_s), 0)


def tags_of(notes: Iterable[NoteLine]) -> Mapping[str, tuple[str, ...]]:
    """Return the tags that hold, by piece ('' for the whole run), from notes in the order they were written."""
    found: dict[str, dict[str, None]] = {}
    for note in notes:
        held = found.setdefault(note.piece, {})
        for tag in note.tags.split():
            if tag.startswith("-"):
                held.pop(tag[1:], None)
            else:
                held[tag] = None
    return {piece: tuple(held) for piece, held in found.items() if held}


def matching(notes: Sequence[NoteLine], words: Iterable[str], tags: Iterable[str] = ()) -> list[NoteLine]:
    """Return the notes in which every word stands somewhere, in whatever case, and whose tags, as far as they hold, are all of ``tags``.

    ``notes`` are all of a run, or of all runs, in the order they were written: later ones take tags back.
    """
    folded = [word.casefold() for word in words]
    wanted = {tag.casefold() for tag in tags}
    of_run: dict[str, list[NoteLine]] = {}
    for note in notes:
        of_run.setdefault(note.run_id, []).append(note)
    held = {run_id: tags_of(lines) for run_id, lines in of_run.items()}
    return [
        note
        for note in notes
        if all(word in "\n".join(note).casefold() for word in folded)
        and wanted <= {tag.casefold() for tag in note.tags.split() if tag in held[note.run_id].get(note.piece, ())}
    ]
