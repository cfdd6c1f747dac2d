"""``compare``: runs side by side."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path

import click

from dryward.doors.common import config_option, fail, json_option, say_json
from dryward.doors.past import open_record, record_option

MOST = 26


@click.command()
@click.argument("run_ids", nargs=-1, required=True, metavar="RUN RUN...")
@config_option
@record_option
@json_option
def compare(run_ids: tuple[str, ...], config: Path | None, record: Path | None, as_json: bool) -> None:
    """Say what differed between runs: program, load, room, drying rates, energy, and their curves over each other."""
    from dryward.record.compare import compare as side_by_side
    from dryward.record.compare_text import as_text
    from dryward.record.lines import NoSuchRun

    if not 2 <= len(run_ids) <= MOST:
        raise click.UsageError(f"name 2 to {MOST} runs; 'dryward runs' lists them.")
    with open_record(config, record) as past:
        try:
            found = side_by_side(past, run_ids)
        except NoSuchRun as error:
            fail(str(error))
    if as_json:
        say_json([asdict(run) for run in found])
    else:
        click.echo(as_text(found), nl=False)
