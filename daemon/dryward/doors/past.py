"""Commands that read the record, with or without a running daemon."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from dryward.doors.common import F, config_option, fail, json_option, places, say_json
from dryward.doors.tables import table

if TYPE_CHECKING:
    from dryward.record.queries import Record


def record_option(command: F) -> F:
    """The option that names a record file directly."""
    return click.option(
        "--record",
        "record",
        type=click.Path(exists=True, dir_okay=False, path_type=Path),
        default=None,
        help="Record file. Default: the one the chamber file names.",
    )(command)


@contextmanager
def open_record(config: Path | None, record: Path | None) -> Iterator[Record]:
    """Open the record for reading; ends with 1 when there is none, or when it turns out not to be readable on the way."""
    from dryward.record.checkpoint import NotReadable
    from dryward.record.damage import is_locked
    from dryward.record.queries import ReadError, Record
    from dryward.record.schema import newest

    path = record or places(config)[1]
    if not path.exists():
        fail(f"There is no record at {path} yet: it begins with the first 'dryward serve' or 'dryward demo'.")
    try:
        with Record(path) as past:
            if past.schema > newest():
                fail(
                    f"{path} was written by a newer dryward: it has schema {past.schema}, this one knows up to {newest()}. "
                    "Nothing was changed in it; read it with the newer version."
                )
            yield past
    except ReadError as error:
        if is_locked(error):
            fail(f"{path} is held by another program and cannot be read now: {error}. Try again when that has ended.")
        fail(f"{path} is no record that can be read: {error}. Name another file with --record, or restore a backup.")
    except NotReadable as error:
        fail(
            f"{path}: a part of that run cannot be read ({error}): it is damaged, or this version no longer takes it. "
            "Restore a backup, or read it with the version that recorded it."
        )


@click.command()
@config_option
@record_option
@json_option
def runs(config: Path | None, record: Path | None, as_json: bool) -> None:
    """List the runs on record, the newest first."""
    with open_record(config, record) as past:
        lines = past.runs()
    if as_json:
        say_json([line._asdict() for line in lines])
        return
    if not lines:
        click.echo("No runs on record yet.")
        return
    rows = [
        [r.run_id, minute(r.start_utc), minute(r.end_utc), r.end_state or "open", f"{r.reached} of {r.pieces}"]
        for r in lines
    ]
    click.echo(table(["run", "began (UTC)", "ended (UTC)", "end", "pieces done"], rows, left=4))


def minute(utc: str | None) -> str:
    """Return an RFC 3339 time to the minute, for a table."""
    return "-" if utc is None else utc[:16].replace("T", " ")


@click.command()
@click.argument("run_id")
@config_option
@record_option
@json_option
@click.option(
    "--html",
    type=click.Path(dir_okay=False, path_type=Path),
    default=None,
    help="Write it as one page with curves into this file: for phone, paper and mail, without any network.",
)
def review(run_id: str, config: Path | None, record: Path | None, as_json: bool, html: Path | None) -> None:
    """Say what happened in run RUN_ID: the verdict first."""
    if html is not None:
        _write_page(run_id, config, record, html)
        return
    from dryward.record.lines import NoSuchRun
    from dryward.record.review import gather, judge
    from dryward.record.review_text import as_text

    with open_record(config, record) as past:
        try:
            found = judge(gather(past, run_id))
        except NoSuchRun as error:
            fail(str(error))
        old = _calibrations_then(past, run_id)
    if as_json:
        say_json({**asdict(found), "old_calibrations": old})
        return
    click.echo(as_text(found, zone=None), nl=False)
    for line in old:
        click.echo(textwrap.fill(f"When this run began, {line}", 80))


def _calibrations_then(past: Record, run_id: str) -> list[str]:
    """Say which calibrations were too old when a run began: its figures deserve less trust."""
    from dryward.doors.calibration_book import Book
    from dryward.doors.calibration_watch import too_old

    run = past.run(run_id)
    try:
        return [str(w) for w in too_old(run.chamber, Book(past.path), datetime.fromisoformat(run.start_utc))]
    except OSError:
        return []


def _is_page(file: Path) -> bool:
    """Tell whether a page may be written there: onto an older page or nothing, never onto a record or a letter."""
    try:
        with file.open("rb") as there:
            return there.read(9).lower() in (b"", b"<!doctype")
    except OSError:
        return not file.exists()


def _write_page(run_id: str, config: Path | None, record: Path | None, html: Path) -> None:
    from dryward.record.lines import NoSuchRun
    from dryward.record.page import page

    if not _is_page(html):
        fail(f"{html} is there already, is no page, and is not written over: give the page another name.")
    with open_record(config, record) as past:
        try:
            text = page(past, run_id, zone=None)
        except NoSuchRun as error:
            fail(str(error))
    try:
        html.write_text(text, encoding="utf-8")
    except OSError as error:
        fail(f"The page could not be written to {html}: {error}")
    click.echo(f"{html}: {len(text.encode()) / 1000:.0f} kB. Open it in any browser; it needs nothing else.")


@click.command()
@click.argument("run_id")
@config_option
@record_option
@json_option
def replay(run_id: str, config: Path | None, record: Path | None, as_json: bool) -> None:
    """Step the engine through run RUN_ID again and compare every decision."""
    from dryward.service.replay import replay as step_again

    with open_record(config, record) as past:
        try:
            found = step_again(past, run_id)
        except LookupError as error:  # no such run, or no state to begin from
            fail(str(error))
    if as_json:
        say_json(asdict(found))
    else:
        click.echo(found.text())
    if found.differences:
        raise SystemExit(1)
