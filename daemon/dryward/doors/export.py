"""``export``: a run for other programs."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import click

from dryward.doors.common import config_option, fail
from dryward.doors.past import open_record, record_option


@click.command()
@click.argument("run_id")
@click.option(
    "--csv",
    "folder",
    type=click.Path(file_okay=False, path_type=Path),
    default=None,
    help="Write one CSV file a table into this folder.",
)
@click.option(
    "--jsonl",
    "file",
    type=click.Path(dir_okay=False, path_type=Path),
    default=None,
    help="Write one JSON object a line into this file.",
)
@click.option(
    "--parquet",
    "columns",
    type=click.Path(file_okay=False, path_type=Path),
    default=None,
    help="Write one Parquet file a table into this folder; needs pip install 'dryward[parquet]'.",
)
@click.option(
    "--anonymous", is_flag=True, help="Numbers instead of names, no sentences, no notes, a clock that begins in 2000."
)
@config_option
@record_option
def export(
    run_id: str,
    folder: Path | None,
    file: Path | None,
    columns: Path | None,
    anonymous: bool,
    config: Path | None,
    record: Path | None,
) -> None:
    """Write all that is on record of run RUN_ID, units in the headings, times in UTC."""
    from dryward.record.export import write_csv, write_lines
    from dryward.record.lines import NoSuchRun
    from dryward.record.parquet import NoArrow, write_parquet

    if folder is None and file is None and columns is None:
        raise click.UsageError("say where to: --csv FOLDER, --jsonl FILE or --parquet FOLDER.")
    if file is not None and file.exists():
        fail(f"{file} is there already and is not written over: give it another name.")
    with open_record(config, record) as past:
        try:
            if folder is not None:
                _say(folder, "csv", write_csv(past, run_id, folder, anonymous=anonymous))
            if columns is not None:
                _say(columns, "parquet", write_parquet(past, run_id, columns, anonymous=anonymous))
            if file is not None:
                past.run(run_id)  # before a file is begun
                click.echo(f"{file}: {write_lines(past, run_id, file, anonymous=anonymous)} lines")
        except (NoSuchRun, NoArrow) as error:
            fail(str(error))
        except FileExistsError as error:
            fail(f"{error.filename} is there already and is not written over: name another folder.")
        except OSError as error:
            fail(f"The run could not be written: {error}")


def _say(folder: Path, ending: str, counts: Mapping[str, int]) -> None:
    click.echo(f"{folder}: " + ", ".join(f"{table}.{ending} {count} rows" for table, count in counts.items()))
