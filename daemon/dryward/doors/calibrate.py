"""``dryward calibrate``: a walk through known weights, ice and boiling water or salt jars that may be broken off and gone on.

Without options it asks; ``--take`` measures one reference now, ``--point`` takes one that was written down, ``--finish``
draws the result. Nothing changes by itself: the lines for chamber.toml are printed.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict
from functools import partial, reduce
from pathlib import Path
from typing import Any

import click

from dryward.core.chamber import HUMIDITY_ROLES, TEMPERATURE_ROLES
from dryward.doors.calibration_book import Book, utc_now
from dryward.doors.calibration_results import Humidity, Scale, Task, Thermometer
from dryward.doors.calibration_walk import Walk
from dryward.doors.common import F, config_option, fail, json_option, say_json, settings_of, who_runs_this
from dryward.doors.measuring import COUNTING, Subject
from dryward.doors.tables import table
from dryward.science.calibration import standard_pressure_pa, weight_under
from dryward.science.figures import BadFigures


def walk_options(command: F) -> F:
    """The options that every walk has."""
    added: list[Callable[[F], F]] = [
        click.option(
            "--point",
            "typed",
            multiple=True,
            metavar="REFERENCE=SHOWN",
            help="A comparison that was written down. May be repeated.",
        ),
        click.option(
            "--take", "taken", metavar="REFERENCE", default=None, help="Measure this reference now, without asking."
        ),
        click.option("--finish", is_flag=True, help="Draw the result from the points so far."),
        click.option("--fresh", is_flag=True, help="Forget the points of a walk that was broken off."),
        click.option(
            "--readings",
            type=click.IntRange(1, 1000),
            default=5,
            show_default=True,
            help="Readings to average for a point.",
        ),
        click.option("--who", default=None, help="Who calibrates, for the book. Default: your login name."),
        config_option,
        json_option,
    ]
    return reduce(lambda made, add: add(made), reversed(added), command)


@click.group()
def calibrate() -> None:
    """Compare a scale, a thermometer or a humidity sensor with what is known."""


@calibrate.command()
@click.argument("name")
@walk_options
def scale(name: str, config: Path | None, **how: Any) -> None:
    """Calibrate the scale NAME of the chamber file with known weights. References are grams; 0 is the empty hook."""
    settings = settings_of(config)
    found = next((s for s in settings.chamber.scales if s.name == name), None)
    if found is None:
        fail(_unknown("scale", name, [s.name for s in settings.chamber.scales]))
    device = next(d for d in settings.devices if d.name == found.device)
    reads = "counts" if device.kind in COUNTING else str(found.reads)
    subject = Subject(name=name, device=device.name, kind=device.kind, reads=reads, is_sensor=False)
    _walk(Scale(subject, found, device), settings, **how)


@calibrate.command()
@click.argument("name")
@click.option(
    "--altitude-m",
    type=float,
    default=None,
    help="Height above sea level, for boiling water. Default: the chamber's pressure_pa.",
)
@click.option(
    "--pressure-pa", type=float, default=None, help="Air pressure now, not reduced to sea level, for boiling water."
)
@click.option(
    "--at",
    "at",
    type=float,
    default=None,
    metavar="DEGC",
    help="Shown value at which the correction shall be right. Default: the middle of the points.",
)
@walk_options
def thermometer(
    name: str, altitude_m: float | None, pressure_pa: float | None, at: float | None, config: Path | None, **how: Any
) -> None:
    """Calibrate the temperature sensor NAME. References: ice, boiling, or the degrees of a better thermometer beside it."""
    settings, sensor, subject = _sensor(name, config, TEMPERATURE_ROLES)
    if pressure_pa is None:
        pressure_pa = settings.chamber.pressure_pa if altitude_m is None else _figures(standard_pressure_pa, altitude_m)
    _walk(Thermometer(subject, sensor, pressure_pa, at), settings, **how)


@calibrate.command()
@click.argument("name")
@click.option(
    "--at",
    "at",
    type=float,
    default=None,
    metavar="RH",
    help="Shown value at which the correction shall be right. Default: the middle of the points.",
)
@walk_options
def humidity(name: str, at: float | None, config: Path | None, **how: Any) -> None:
    """Calibrate the humidity sensor NAME over saturated salts. References: NaCl@20.5 (salt and its degC), or a figure in %RH."""
    settings, sensor, subject = _sensor(name, config, HUMIDITY_ROLES)
    _walk(Humidity(subject, sensor, at), settings, **how)


@calibrate.command()
@config_option
@json_option
def history(config: Path | None, as_json: bool) -> None:
    """List the calibrations of this chamber, and which are due again."""
    book, now = Book(Path(settings_of(config).record.path)), utc_now()
    old = [f"{text}. {cure}" for _, text, cure in book.old(now)]
    if as_json:
        say_json({"results": [asdict(e) for e in book.results()], "old": old, "unreadable": book.unreadable})
        return
    rows = [[e.calibration, e.kind, e.name, e.utc[:10], e.who, e.note] for e in book.results()]
    click.echo(
        table(["calibration", "kind", "of", "date", "by", "said"], rows, left=6)
        if rows
        else "Nothing has been calibrated yet."
    )
    for line in old:
        click.echo(f"OLD: {line}")
    if book.unreadable:
        click.echo(f"{book.unreadable} lines of {book.path} cannot be read and were passed over.")


@calibrate.command()
@click.argument("weights", type=float, nargs=-1)
@click.option(
    "--from", "was", default=None, metavar="CALIBRATION", help="Calibration under which WEIGHTS were recorded."
)
@click.option("--to", "now", required=True, metavar="CALIBRATION", help="Calibration under which they shall be read.")
@click.option(
    "--run", "run_id", default=None, metavar="RUN", help="Every weight of a run instead, from its raw counts."
)
@click.option("--scale", "scale_name", default=None, metavar="NAME", help="With --run: the scale.")
@config_option
def recompute(
    weights: tuple[float, ...],
    was: str | None,
    now: str,
    run_id: str | None,
    scale_name: str | None,
    config: Path | None,
) -> None:
    """Say what recorded WEIGHTS, in g and with the tare still in them, are under a newer calibration.

    With --run and --scale: all weights of a run as CSV, each with the raw count that was weighed.
    """
    settings = settings_of(config)
    book = Book(Path(settings.record.path))
    newer = _line_of(book, now)
    if run_id is not None and scale_name is not None and was is None and not weights:
        _recompute_run(Path(settings.record.path), run_id, scale_name, newer)
        return
    if run_id is not None or scale_name is not None or was is None or not weights:
        raise click.UsageError("Give WEIGHTS and --from, or --run and --scale.")
    older = _line_of(book, was)
    for weight_g in weights:
        click.echo(f"{weight_g:g} g -> {weight_under(weight_g, was=older, now=newer):.2f} g")


def _line_of(book: Book, name: str) -> tuple[float, float]:
    """Return zero count and g per count of a calibration; ends with 1 where there is none of that name."""
    entry = book.found(name)
    if entry is None or "g_per_count" not in entry.values:
        known = [e.calibration for e in book.results() if "g_per_count" in e.values]
        fail(_unknown("calibration of a scale", name, known))
    return float(entry.values["zero_count"]), float(entry.values["g_per_count"])


def _recompute_run(record: Path, run_id: str, scale_name: str, newer: tuple[float, float]) -> None:
    """Print a run's weights of one scale: as recorded, their raw counts, and what those weigh now."""
    from dryward.doors.past import open_record
    from dryward.record.facts import wall_s
    from dryward.record.lines import NoSuchRun
    from dryward.record.moments import utc_text

    zero_count, g_per_count = newer
    with open_record(None, record) as past:
        try:
            run, counted = past.run(run_id), past.raw_counts(run_id, scale_name)
        except NoSuchRun as error:
            fail(str(error))
        if not counted:
            fail(
                f"Run {run_id} has no raw counts of {scale_name}: it is no scale of a load cell, its chamber file held no calibration then, or its single readings were thinned out after a year."
            )
        anchors = past.anchors(run_id)
    click.echo("utc,counts,calibration,weight_g,weight_g_now")
    for tick, counts, weight_g, calibration in counted:
        now_g = (counts - zero_count) * g_per_count
        click.echo(f"{utc_text(wall_s(anchors, run, tick))},{counts},{calibration},{weight_g:.2f},{now_g:.2f}")


def _walk(
    task: Task,
    settings: Any,
    *,
    typed: tuple[str, ...],
    taken: str | None,
    finish: bool,
    fresh: bool,
    readings: int,
    who: str | None,
    as_json: bool,
) -> None:
    walk = Walk(task, settings, who=who or who_runs_this(), readings=readings, say=partial(click.echo, err=as_json))
    if fresh:
        walk.drop()
    for point in typed:
        reference, equals, shown = point.partition("=")
        if not equals:
            raise click.BadParameter(f"{point!r}: write REFERENCE=SHOWN, such as 500=58213", param_hint="--point")
        walk.write_down(reference, shown)
    if taken is not None:
        walk.take(taken)
    if not (typed or taken or finish):
        finish = walk.ask()
    if finish:
        found = walk.finish()
        if as_json:
            say_json(found)


def _sensor(name: str, config: Path | None, roles: frozenset[str]) -> tuple[Any, Any, Subject]:
    settings = settings_of(config)
    fitting = [s for s in settings.chamber.sensors if s.role in roles]
    found = next((s for s in fitting if s.name == name), None)
    if found is None:
        fail(_unknown("sensor of this kind", name, [s.name for s in fitting]))
    device = next(d for d in settings.devices if d.name == found.device)
    return (
        settings,
        found,
        Subject(name=name, device=device.name, kind=device.kind, reads=str(found.reads), offset=found.offset),
    )


def _figures(work: Callable[[float], float], value: float) -> float:
    try:
        return work(value)
    except BadFigures as error:
        fail(str(error))


def _unknown(what: str, name: str, known: list[str]) -> str:
    return f"There is no {what} called {name}. Known: {', '.join(known) or 'none'}."
