"""``backup`` and ``restore``: the record as one checked file, and back again."""

from __future__ import annotations

import time
from contextlib import closing
from pathlib import Path

import click

from dryward.doors.common import config_option, fail, places
from dryward.doors.past import record_option


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@config_option
@record_option
def backup(file: Path, config: Path | None, record: Path | None) -> None:
    """Write a compact, checked copy of the record to FILE; the daemon may be running."""
    from dryward.record.keeping import KeepingError, copy_whole

    path = record or places(config)[1]
    if not path.exists():
        fail(f"There is no record at {path} to back up.")
    if file.exists():
        fail(f"{file} is there already and is not written over: give the backup another name.")
    try:
        copy_whole(path, file)
    except KeepingError as error:
        fail(f"{error}.")
    click.echo(
        f"{file}: {file.stat().st_size / 1e6:.1f} MB, read back and whole. Keep it on another disk than the record."
    )


@click.command()
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@config_option
@click.option(
    "--record",
    type=click.Path(dir_okay=False, path_type=Path),
    default=None,
    help="Record file. Default: the one the chamber file names.",
)
@click.option("--yes", is_flag=True, help="Do not ask.")
def restore(file: Path, config: Path | None, record: Path | None, yes: bool) -> None:
    """Put the backup FILE in the place of the record. The daemon must be stopped; the present record is set aside, not deleted."""
    from dryward.record.keeping import KeepingError
    from dryward.record.keeping import restore as put_back
    from dryward.service.lock import ChamberLock, Taken

    path = record or places(config)[1]
    if file.resolve() == path.resolve():
        fail(f"{file} is the record itself: name a backup.")
    if not yes:
        click.confirm(
            f"{path} is replaced by {file}. What was recorded since that backup is set aside. Go on?", abort=True
        )
    try:
        with closing(ChamberLock(path)):
            aside = put_back(file, path, at_utc_s=time.time())
    except Taken as error:
        fail(f"{error} A record in use is not replaced.")
    except (KeepingError, OSError) as error:
        fail(f"{error}.")
    kept = f" The one before is kept as {aside}." if aside is not None else ""
    click.echo(f"{path} is now the backup {file}.{kept}")
