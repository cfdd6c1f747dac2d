"""``demo`` and ``rehearse``: whole runs on the simulated dryer, as fast as this machine can."""

from __future__ import annotations

import textwrap
from dataclasses import asdict
from math import inf
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from dryward.doors.common import (
    config_option,
    fail,
    json_option,
    known_config,
    say_json,
    settings_of,
    who_runs_this,
)
from dryward.doors.tables import grams, hours, per_cent, table

if TYPE_CHECKING:
    from collections.abc import Mapping

    from dryward.core.commands import Commands
    from dryward.core.inputs import Inputs
    from dryward.core.program import Piece, Program
    from dryward.core.state import State
    from dryward.service.foretell import Outlook
    from dryward.service.rehearsal import Rehearsed
    from dryward.settings import Settings

TICK_S = 5.0
DEMO_FOLDER = Path(".dryward-demo")
COMMISSIONING = (
    "The chamber file says commissioning = true: the rehearsal heats all the same, since nothing real gets hot. "
    "Your chamber gives no heat before it says false."
)
TOLD = ("notice", "warning", "alarm", "trip")


@click.command()
@click.option(
    "--folder",
    type=click.Path(file_okay=False, path_type=Path),
    default=DEMO_FOLDER,
    show_default=True,
    help="Where configuration and record of the demo go.",
)
def demo(folder: Path) -> None:
    """Watch a whole drying run of an invented batch on the simulated dryer, days in seconds."""
    from dryward.settings import read_pieces, read_program, read_settings
    from dryward.settings.starter import starter_files

    try:
        _write_demo(folder, starter_files("twin"))
    except OSError as error:
        fail(f"{error.filename or folder} could not be written ({error.strerror}). Name another folder with --folder.")
    settings = read_settings(folder / "chamber.toml")
    record = folder / "record.db"
    program = read_program(folder / "program.toml")
    pieces = read_pieces(folder / "batch.toml", settings.chamber)
    click.echo("An invented batch on a simulated dryer. Days pass in seconds; the meat is not real, the daemon is.\n")
    click.echo(_loaded(pieces))
    click.echo()
    _may_be_kept_in(record, None)
    run_id = _free_name(record, "demo-1")
    found = _run(settings, program, pieces, run_id=run_id, record=record, tell=True)
    click.echo("\n" + report(found))
    click.echo(
        f"\nEvery reading of the run is on record. Look at it again:\n  dryward review {run_id} --record {record}"
    )


def _write_demo(folder: Path, files: Mapping[str, str]) -> None:
    """Write the demo's files; in a folder somebody named, only where no other file has their name. Raises OSError."""
    if folder != DEMO_FOLDER:
        theirs = [
            n for n, text in files.items() if (folder / n).exists() and (folder / n).read_bytes() != text.encode()
        ]
        if theirs:
            fail(f"{folder} already holds {', '.join(theirs)} of its own: nothing was written. Name another folder.")
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in files.items():
        (folder / name).write_text(text, encoding="utf-8")


@click.command()
@click.argument("program", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option(
    "--pieces", type=click.Path(exists=True, dir_okay=False, path_type=Path), required=True, help="Batch file."
)
@click.option(
    "--record",
    type=click.Path(dir_okay=False, path_type=Path),
    default=None,
    help="Keep the record of the rehearsal in this file.",
)
@config_option
@json_option
def rehearse(program: Path, pieces: Path, record: Path | None, config: Path | None, as_json: bool) -> None:
    """Run PROGRAM on the simulated dryer before you trust meat to it.

    A chamber file with real devices is rehearsed with its own limits, control and outputs on the simulated chamber.
    Without one the example dryer is used.
    """
    from dryward.service.fast import RunRefused
    from dryward.service.stand_in import rehearsal_settings
    from dryward.settings import SettingsError, check_program_on_chamber, read_pieces, read_program
    from dryward_hardware.ports import DeviceError

    try:
        named = settings_of(config) if config or known_config(None) else None
        settings = rehearsal_settings(named)
        batch = read_pieces(pieces, None)
        read = read_program(program)
        check_program_on_chamber(read, (named or settings).chamber, where=str(program))
        if record is not None:
            _may_be_kept_in(record, named)
        if named is not None and named.chamber.limits.commissioning:
            click.echo(COMMISSIONING, err=True)
        run_id = "rehearsal" if record is None else _free_name(record, "rehearsal")
        found = _run(settings, read, batch, run_id=run_id, record=record, tell=False)
    except (SettingsError, RunRefused, DeviceError) as error:
        fail(str(error))
    if as_json:
        say_json(asdict(found))
    else:
        click.echo(report(found))


def _run(
    settings: Settings, program: Program, pieces: tuple[Piece, ...], *, run_id: str, record: Path | None, tell: bool
) -> Rehearsed:
    """Run it, show how far it is, and return what was found."""
    from dryward.core.layout import lay_out
    from dryward.service.fast import run_fast, take_out_when_done
    from dryward.service.rehearsal import Notebook

    book = Notebook(program, lay_out(settings.chamber).air)
    hung = _on_hooks(settings, pieces)
    with click.progressbar(length=1000, label="drying", show_eta=False, item_show_func=_shown, file=_stderr()) as bar:
        reached = 0

        def watch(tick: int, inputs: Inputs, commands: Commands, state: State) -> None:
            nonlocal reached
            book.watch(tick, inputs, commands, state)
            if tell:
                for event in commands.events:
                    if event.severity in TOLD:
                        bar.file.write("\r\033[K") if bar.file.isatty() else None
                        click.echo(f"{_day(state)}  {event.text}")
            if tick % 720 == 0:
                done = int(1000 * _share(state))
                bar.update(max(0, done - reached), current_item=_day(state))
                reached = max(reached, done)

        def say_ahead(outlook: Outlook, state: State) -> None:
            bar.file.write("\r\033[K") if bar.file.isatty() else None
            click.echo("\n".join(foretold(outlook, state)))

        ended = run_fast(
            settings,
            program,
            hung,
            run_id=run_id,
            period_s=TICK_S,
            record=record,
            who=who_runs_this(),
            watch=watch,
            owner=take_out_when_done,
            foresee=say_ahead if tell else None,
        )
        bar.update(1000 - reached)
    return book.close(ended)


def _on_hooks(settings: Settings, pieces: tuple[Piece, ...]) -> tuple[Piece, ...]:
    """Give each piece a cell of the simulated chamber, where it names none that exists."""
    from dataclasses import replace

    cells = [s.name for s in settings.chamber.scales if s.carries == "piece"]
    taken = {p.scale for p in pieces}
    free = [c for c in cells if c not in taken]
    return tuple(p if p.scale in cells else replace(p, scale=free.pop(0) if free else None) for p in pieces)


def _share(state: State) -> float:
    """How far the batch is, 0 to 1: by loss against target."""
    shares = [
        min(1.0, (p.loss_pct or 0.0) / p.piece.target_loss_pct) if p.status == "drying" else 1.0 for p in state.pieces
    ]
    return sum(shares) / len(shares) if shares else 0.0


def foretold(outlook: Outlook, state: State) -> list[str]:
    """Say when each piece will be ready, a line each."""

    def day(at_s: float) -> str:
        return "never" if at_s == inf else _moment(round((at_s - state.run.started_s) / 300.0) * 300.0)

    said = [f"{_day(state)}  Ready, with the span that holds it nine times out of ten:"]
    for one in outlook.pieces:
        if one.finish_s is None:
            said.append(f"  {one.piece}: {one.why}")
        elif one.finish_s == inf:
            said.append(f"  {one.piece}: not with this program")
        else:
            said.append(f"  {one.piece}: {day(one.finish_s)} ({day(one.lo_s)} to {day(one.hi_s)})")
    return said


def _day(state: State) -> str:
    return _moment(state.now - state.run.started_s)


def _moment(since_s: float) -> str:
    return f"day {int(since_s // 86_400) + 1} {hours(since_s % 86_400)}"


def _shown(item: str | None) -> str:
    return item or ""


def _stderr() -> Any:
    import sys

    return sys.stderr


def _free_name(record: Path, first: str) -> str:
    """Return a name for this run that the record does not hold yet: ``first``, or its stem with the next number."""
    if not record.exists():
        return first
    from dryward.record.queries import Record

    with Record(record) as past:
        names = {r.run_id for r in past.runs()}
    stem = first.removesuffix("-1")
    return next(n for n in (first, *(f"{stem}-{i}" for i in range(2, len(names) + 3))) if n not in names)


def _may_be_kept_in(record: Path, named: Settings | None) -> None:
    """Refuse a file that is no record, which would be set aside, and the chamber's own, where forecasts learn from runs."""
    from dryward.record.queries import ReadError, Record
    from dryward.record.schema import newest

    if named is not None and record.resolve() == Path(named.record.path).resolve():
        fail(
            f"{record} is the record of {named.chamber.name} itself: a rehearsal in it would pass for real meat. "
            "Name another file."
        )
    if record.exists():
        try:
            with Record(record) as past:
                past.runs()
                if past.schema > newest():
                    fail(f"{record} was written by a newer dryward. Nothing was written; name another file.")
        except ReadError as error:
            fail(f"{record} is no record that can be read: {error}. Nothing was written; name another file.")


def _loaded(pieces: tuple[Piece, ...]) -> str:
    rows = [[p.name, grams(p.green_g), f"{p.target_loss_pct:g} %", grams(p.target_g)] for p in pieces]
    return table(["piece", "green", "to lose", "done at"], rows)


def report(found: Rehearsed) -> str:
    """Return a rehearsal as text."""
    steps = [
        [
            s.name,
            hours(s.start_s),
            hours(s.end_s),
            hours(None if s.in_band_s is None else s.in_band_s - s.start_s),
            "-" if s.low_c is None else f"{s.low_c:.1f} to {s.high_c:.1f}",
        ]
        for s in found.steps
    ]
    pieces = [
        [p.name, grams(p.green_g), grams(p.target_g), grams(p.final_g), per_cent(p.loss_pct), hours(p.finish_s)]
        for p in found.pieces
    ]
    wear = ", ".join(f"{name} {count}" for name, count in found.relay_operations.items() if count)
    unknown = "Energy not known (no output that was on says its power_w in the chamber file)."
    energy = f"Energy {found.energy_kwh:.1f} kWh." if found.energy_kwh or not wear else unknown
    lines = [
        f"{found.program}: {found.end} after {found.hours:.1f} h. {found.why[:1].upper()}{found.why[1:]}.",
        "",
        table(["step", "from", "to", "in band after", "air, degC"], steps),
        "",
        table(["piece", "green", "target", "final", "lost", "finished after"], pieces),
        "",
        f"{energy} Switching operations: {wear or 'none'}.",
    ]
    lines += [textwrap.fill(line, 100, subsequent_indent="  ") for line in found.meat]
    lines += [f"Warning {w}" for w in found.warnings]
    lines.append(
        "Lost weight alone does not make meat keep: cool the pieces, keep them cold, follow your local food code."
    )
    return "\n".join(lines)
