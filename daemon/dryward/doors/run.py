"""Commands that ask the running daemon for something. Each is accepted, or refused with the reason."""

from __future__ import annotations

import json
from pathlib import Path

import click

from dryward.doors.calc.grams import Grams
from dryward.doors.common import config_option, fail, send, settings_of, who_runs_this


@click.command()
@click.argument("pieces", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@config_option
def load(pieces: Path, config: Path | None) -> None:
    """Register the pieces of a batch from the file PIECES: name, green weight, target loss."""
    from dryward.record.checkpoint import to_json
    from dryward.settings import SettingsError, read_pieces

    try:
        batch = read_pieces(pieces, settings_of(config).chamber)
    except SettingsError as error:
        fail(str(error))
    send(config, {"verb": "load", "pieces": [json.loads(to_json(p)) for p in batch]})


@click.command()
@click.argument("program", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--at", "at", default=None, help="Start later: 06:30, or 2026-03-01T06:30, local time.")
@config_option
def start(program: Path, at: str | None, config: Path | None) -> None:
    """Start the drying program in the file PROGRAM, now or with --at at a time."""
    from dryward.doors.moments import Unclear, local_moment
    from dryward.record.checkpoint import to_json
    from dryward.settings import SettingsError, check_program_on_chamber, read_program

    settings = settings_of(config)
    try:
        read = read_program(program)
        check_program_on_chamber(read, settings.chamber, where=str(program))
    except SettingsError as error:
        fail(str(error))
    asked = {"verb": "start", "program": json.loads(to_json(read)), "run_id": ""}
    if at is None:
        send(config, asked)
        return
    try:
        moment_s = local_moment(at)
    except Unclear as error:
        raise click.BadParameter(str(error), param_hint="--at") from None
    send(config, asked, at_utc_s=moment_s)


@click.command()
@click.option("--reason", default="", help="Why, for the record.")
@config_option
def hold(reason: str, config: Path | None) -> None:
    """Switch the heat off and let the program wait."""
    send(config, {"verb": "hold", "reason": reason})


@click.command()
@config_option
def resume(config: Path | None) -> None:
    """Go on after a hold. The heat comes back slowly."""
    send(config, {"verb": "resume"})


@click.command()
@click.option("--reason", default="", help="Why, for the record.")
@config_option
def stop(reason: str, config: Path | None) -> None:
    """End the run: heat off, the fan runs on. A planned start is dropped too."""
    send(config, {"verb": "stop", "reason": reason})


@click.command(context_settings={"ignore_unknown_options": True})
@click.argument("piece")
@click.argument("grams", type=Grams())
@config_option
def weigh(piece: str, grams: float, config: Path | None) -> None:
    """Enter that PIECE weighs so many GRAMS now."""
    send(config, {"verb": "weigh", "piece": piece, "weight_g": grams})


@click.command(context_settings={"ignore_unknown_options": True})
@click.argument("piece")
@click.argument("grams", type=Grams(), required=False)
@config_option
def pull(piece: str, grams: float | None, config: Path | None) -> None:
    """Take PIECE out, with its weight in GRAMS (left out: its last known weight)."""
    send(config, {"verb": "pull", "piece": piece, "weight_g": grams})


@click.command()
@click.argument("alarm", default="all")
@click.option("--name", default=None, help="Your name. Default: your login.")
@config_option
def ack(alarm: str, name: str | None, config: Path | None) -> None:
    """Acknowledge ALARM (its key in 'dryward status'), or all: you have seen it."""
    send(config, {"verb": "ack", "alarm": alarm}, who=name or who_runs_this())


@click.command()
@click.option("--name", default=None, help="Your name. Default: your login.")
@config_option
def reset(name: str | None, config: Path | None) -> None:
    """Clear acknowledged trips whose cause is gone; after a run has ended, make ready for the next."""
    send(config, {"verb": "reset"}, who=name or who_runs_this())
