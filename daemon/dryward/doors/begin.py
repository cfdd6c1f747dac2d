"""Commands that begin something: a starter configuration, the daemon itself."""

from __future__ import annotations

import shlex
import shutil
import sys
from pathlib import Path
from typing import Literal

import click

from dryward.doors.calc.answer import Finite
from dryward.doors.common import config_option, fail, settings_of


@click.command()
@click.argument("folder", type=click.Path(file_okay=False, path_type=Path), default=Path("."))
@click.option(
    "--kind",
    type=click.Choice(["twin", "twin-cabinet", "dryer", "cabinet"]),
    default="twin",
    show_default=True,
    help="Simulated dryer or cabinet, real hot dryer, real cool cabinet.",
)
def init(folder: Path, kind: Literal["twin", "twin-cabinet", "dryer", "cabinet"]) -> None:
    """Write a commented starter configuration into FOLDER: chamber, programs, a batch. Nothing is overwritten."""
    from dryward.settings.starter import starter_files

    files = starter_files(kind)
    try:
        there = [name for name in files if (folder / name).exists()]
        if there:
            fail(
                f"{folder} already holds {', '.join(there)}: nothing was written. Name another folder, or move them away."
            )
        folder.mkdir(parents=True, exist_ok=True)
        for name, text in files.items():
            (folder / name).write_text(text, encoding="utf-8")
            click.echo(f"wrote {folder / name}")
    except OSError as error:
        fail(
            f"{error.filename or folder} could not be written ({error.strerror}). Name a folder that you may write in."
        )
    dryward = "dryward" if shutil.which("dryward") else sys.argv[0]
    chamber = shlex.quote(str(folder / "chamber.toml"))
    if kind in ("dryer", "cabinet"):
        click.echo(f"Next: write what you have wired into {chamber}, then: {dryward} check --config {chamber}")
    else:
        click.echo(f"Next: {dryward} serve --config {chamber}")


@click.command()
@config_option
@click.option(
    "--speed",
    type=Finite(1.0, 1000.0),
    default=1.0,
    help="Run faster than real time; simulated chambers only.",
)
def serve(config: Path | None, speed: float) -> None:
    """Run the daemon for a chamber, in real time, until it is told to end."""
    settings = settings_of(config)
    from dryward.service.lock import Taken
    from dryward.service.serve import quiet_logging
    from dryward.service.serve import serve as run
    from dryward.service.wiring import simulated
    from dryward_hardware.ports import DeviceError

    if speed > 1.0 and not simulated(settings):
        raise click.BadParameter(
            "only a chamber whose every device is simulated may run faster than real time", param_hint="--speed"
        )
    quiet_logging()
    try:
        run(settings, speed=speed)
    except Taken as error:
        fail(str(error))
    except DeviceError as error:
        fail(f"A device could not be opened: {error}")
    except OSError as error:
        fail(
            f"dryward could not start: {error}. Until it does nothing is heated, watched or told: keep the meat cold. "
            "See that the folders of [record] path and [service] socket are there and can be written; a worn card turns read-only."
        )
