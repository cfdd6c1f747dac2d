"""``note``, ``tag`` and ``find``: what people write about a run or a piece, during it and long after."""

from __future__ import annotations

import sqlite3
import time
from contextlib import closing
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

import click

from dryward.doors.common import F, config_option, fail, json_option, places, say_json, who_runs_this
from dryward.doors.past import minute, open_record, record_option
from dryward.doors.wire import Unreachable, ask

if TYPE_CHECKING:
    from dryward.record.moments import NoteWritten


def _about(command: F) -> F:
    for option in (
        click.option("--piece", default="", help="A piece of the run. Default: the whole run."),
        click.option("--name", "who", default=None, help="Who says so. Default: your login name."),
    ):
        command = option(command)
    return command


@click.command()
@click.argument("run_id")
@click.argument("text", nargs=-1)
@click.option("--photo", "photos", multiple=True, help="Name of a photo's file; it is not copied. May be given again.")
@click.option("--tag", "tags", multiple=True, help="A word to find it by. May be given again.")
@click.option("--tasting", is_flag=True, help="What it tasted like: tags the note 'tasting'.")
@_about
@config_option
@record_option
def note(
    run_id: str,
    text: tuple[str, ...],
    photos: tuple[str, ...],
    tags: tuple[str, ...],
    tasting: bool,
    piece: str,
    who: str | None,
    config: Path | None,
    record: Path | None,
) -> None:
    """Write TEXT about run RUN_ID, or about one of its pieces: while it dries, or when you taste it."""
    from dryward.record.notebook import TASTING, written

    words = (*tags, *([TASTING] if tasting and TASTING not in tags else []))
    made = written(run_id, " ".join(text), who=who or who_runs_this(), piece=piece, photos=photos, tags=words)
    _write(made, config, record)


@click.command()
@click.argument("run_id")
@click.argument("tags", nargs=-1, required=True)
@click.option("--remove", is_flag=True, help="Take the tags back.")
@_about
@config_option
@record_option
def tag(
    run_id: str,
    tags: tuple[str, ...],
    remove: bool,
    piece: str,
    who: str | None,
    config: Path | None,
    record: Path | None,
) -> None:
    """Tag run RUN_ID or one of its pieces with TAGS, words to find it by."""
    from dryward.record.notebook import written

    words = [f"-{word}" if remove else word for word in tags]
    _write(written(run_id, "", who=who or who_runs_this(), piece=piece, tags=words), config, record)


@click.command()
@click.argument("words", nargs=-1)
@click.option("--tag", "tags", multiple=True, help="Only notes with this tag. May be given again.")
@click.option("--run", "run_id", default="", help="Only notes of this run.")
@config_option
@record_option
@json_option
def find(
    words: tuple[str, ...],
    tags: tuple[str, ...],
    run_id: str,
    config: Path | None,
    record: Path | None,
    as_json: bool,
) -> None:
    """Find notes in which all WORDS stand, in any run; without a word, all notes."""
    from dryward.record.notebook import matching

    with open_record(config, record) as past:
        found = matching(past.notes(run_id), words, tags)
    if as_json:
        say_json([line._asdict() for line in found])
        return
    if not found:
        click.echo("No such note.")
        return
    for line in found:
        more = [f"photo {line.photo}" if line.photo else "", " ".join(_tag(word) for word in line.tags.split())]
        about = ", ".join(part for part in (f"run {line.run_id}", line.piece, line.who) if part)
        said = "  ".join(part for part in (line.text, *more) if part)
        click.echo(f"{minute(line.utc)} UTC, {about}:\n    {said}")


def _tag(word: str) -> str:
    return f"no longer #{word[1:]}" if word.startswith("-") else f"#{word}"


def _write(notes: tuple[NoteWritten, ...], config: Path | None, record: Path | None) -> None:
    """Through the service while it runs, else by ourselves while nobody else has the record."""
    if record is not None:
        _write_alone(record, notes, "It is in use: leave --record out, then the note goes through the running dryward.")
        return
    socket, path = places(config)
    try:
        answer = ask(socket, {"verb": "note", "notes": [asdict(one) for one in notes]})
    except Unreachable as error:
        if not path.exists():
            fail(f"There is no record at {path} yet, so there is no run to write about.")
        _write_alone(path, notes, str(error))
        return
    if not answer.get("accepted"):
        fail(f"Refused: {answer.get('text', 'no reason given')}")
    click.echo(answer["text"])


def _write_alone(path: Path, notes: tuple[NoteWritten, ...], when_taken: str) -> None:
    from dryward.record.lines import NoSuchRun
    from dryward.record.notebook import BadNote, write_down
    from dryward.record.schema import NewerSchema
    from dryward.service.lock import ChamberLock, Taken

    try:
        with closing(ChamberLock(path)):
            write_down(path, notes, at_utc_s=time.time())
    except Taken:
        fail(f"Nothing was written to {path}. {when_taken}")
    except (NoSuchRun, BadNote, NewerSchema) as error:
        fail(f"Refused: {error}")
    except (sqlite3.Error, OSError) as error:
        fail(f"Nothing was written to {path}: {error}")
    click.echo(f"Noted in run {notes[0].run_id}.")
