"""``calc forecast``: when each piece will be done, from nothing but a notebook and a scale."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import asdict
from datetime import datetime
from pathlib import Path

import click

from dryward.doors.calc.answer import NUMBER, json_option
from dryward.doors.calc.table import BadTable, Table, read_columns
from dryward.science.figures import celsius_mix_up, fraction_mix_up, not_above_zero, outside
from dryward.science.forecast import Forecast, PieceLog, mistakes
from dryward.science.forecast import forecast as foretell
from dryward.science.loss import weight_after, weight_mistake
from dryward.science.pace import AirAt

DIGITS = 6
EPOCH_FROM_S = 1e9
"""Times from here on (2001) are seconds since 1970, not since somebody's first weighing."""


@click.command()
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option(
    "--target-pct",
    type=NUMBER,
    required=True,
    help="Loss at which a piece is done, per cent of its green weight (35, not 0.35).",
)
@click.option(
    "--plan",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    help="Air to come: t_s, air_c and perhaps rh_pct, each row from its time on. Left out: the last air stays.",
)
@click.option(
    "--green",
    "greens",
    multiple=True,
    metavar="PIECE=G",
    help="Green weight of a piece, g. Left out: its first weight in the file.",
)
@json_option
def forecast(file: Path, target_pct: float, plan: Path | None, greens: Sequence[str], as_json: bool) -> None:
    """Forecast the finish of every piece in FILE: columns t_s, piece, weight_g, and air_c and rh_pct where they are known.

    Each finish comes with the interval that holds it nine times out of ten. Pieces in one file help each other.

    \b
    dryward calc forecast notebook.csv --target-pct 35
    dryward calc forecast notebook.csv --target-pct 35 --plan program.csv --green 3=1040
    """
    if wrong := _target_mistake(target_pct):
        raise click.UsageError(wrong)
    table = read_columns(file, ["t_s", "weight_g"], ["air_c", "rh_pct"], words=["piece"])
    pieces = list(dict.fromkeys(table.words["piece"]))
    green_g = _greens(greens, pieces)
    if bad := _bad_rows(table, weights=True):
        raise BadTable(file, bad)
    logs = [_log(table, piece, green_g.get(piece), target_pct) for piece in pieces]
    if bad := _kilograms(table, logs) or [line for log in logs for line in mistakes(log)]:
        raise BadTable(file, bad)
    answers = foretell(logs, _plan(plan) if plan else ())
    if as_json:
        click.echo(json.dumps([_rounded(answer) for answer in answers], indent=2, allow_nan=False, ensure_ascii=False))
    else:
        click.echo(
            "\n".join(
                [
                    *(line(answer, log) for answer, log in zip(answers, logs, strict=True)),
                    "Loss of weight is not a safety proof: see 'dryward calc drying'.",
                ]
            )
        )


def line(answer: Forecast, log: PieceLog) -> str:
    """Say the forecast of one piece in a sentence."""
    now_s = max(t for t, _ in log.weighings)
    said = f"{answer.piece}: {answer.last_g:g} g, {answer.loss_pct:.1f} % lost; "
    if answer.reached:
        return said + f"its target of {answer.target_g:.1f} g was reached at {_hours(answer.finish_s)}."
    if answer.finish_s is None:
        earliest = "" if answer.finish_lo_s is None else f" (if at all, not before {_hours(answer.finish_lo_s)})"
        return said + f"{answer.target_g:.1f} g: not with this program{earliest}."
    latest = "perhaps never" if answer.finish_hi_s is None else _hours(answer.finish_hi_s)
    return said + (
        f"{answer.target_g:.1f} g expected at {_hours(answer.finish_s)}, {_hours(answer.finish_s - now_s)} after the last weighing;"
        f" nine times out of ten between {_hours(answer.finish_lo_s)} and {latest}."
    )


def _hours(t_s: float | None) -> str:
    """Say a moment of the file's own axis: in hours, or by the clock on the wall where its times count from 1970."""
    if t_s is None:
        return "never"
    if t_s >= EPOCH_FROM_S:
        return f"{datetime.fromtimestamp(t_s):%a %d %b %H:%M}"
    return f"{t_s / 3600.0:.2f} h"


def _rounded(answer: Forecast) -> dict[str, object]:
    return {name: round(value, DIGITS) if isinstance(value, float) else value for name, value in asdict(answer).items()}


def _target_mistake(target_pct: float) -> str | None:
    if 0.0 < target_pct < 100.0:
        cure = fraction_mix_up(target_pct, low_pct=1.0)
        return f"target loss is {target_pct:g} %, too little to see. {cure}" if cure else None
    return outside("target loss", target_pct, "%", low=1.0, high=99.0)


def _greens(greens: Sequence[str], pieces: Sequence[str]) -> dict[str, float]:
    """Read ``PIECE=G``; raises a usage error that lists every mistake."""
    found, wrong = {}, []
    for given in greens:
        piece, _, grams = given.rpartition("=")
        try:
            green_g = float(grams.replace(",", "."))
        except ValueError:
            wrong.append(f"--green {given}: {grams!r} is no number of grams. Write it like 1040 or 1040.5")
            continue
        if piece not in pieces:
            wrong.append(f"--green {given}: write PIECE=G with a piece of the file: {', '.join(pieces)}")
        elif mistake := not_above_zero(f"green weight of {piece}", green_g, "g", high=1e6):
            wrong.append(mistake)
        else:
            found[piece] = green_g
    if wrong:
        raise click.UsageError("\n  ".join(wrong))
    return found


def _bad_rows(table: Table, *, weights: bool) -> list[str]:
    """Name every row with a figure that cannot be."""
    columns, found = table.columns, []
    for place, row in enumerate(table.rows):
        wrong = [not_above_zero("weight_g", columns["weight_g"][place], "g", high=1e6)] if weights else []
        if "air_c" in columns and not math.isnan(air_c := columns["air_c"][place]):
            wrong.append(
                outside("air_c", air_c, "degC", low=-40.0, high=150.0, cure=celsius_mix_up(air_c, high_c=150.0))
            )
        if "rh_pct" in columns and not math.isnan(rh_pct := columns["rh_pct"][place]):
            wrong.append(outside("rh_pct", rh_pct, "%RH", low=0.0, high=100.0))
        found += [f"row {row}: {mistake}" for mistake in wrong if mistake]
    return found


def _log(table: Table, piece: str, green_g: float | None, target_pct: float) -> PieceLog:
    places = [place for place, name in enumerate(table.words["piece"]) if name == piece]
    weighings = [(table.columns["t_s"][place], table.columns["weight_g"][place]) for place in places]
    green_g = green_g or min(weighings, key=lambda row: row[0])[1]
    return PieceLog(
        piece=piece,
        green_g=green_g,
        target_g=weight_after(green_g, target_pct),
        weighings=weighings,
        airs=_airs(table, places),
    )


def _kilograms(table: Table, logs: Sequence[PieceLog]) -> list[str]:
    """Name every row whose weight is likely in kg, beside a green weight in g."""
    green_g = {log.piece: log.green_g for log in logs}
    found = []
    for row, piece, weight_g in zip(table.rows, table.words["piece"], table.columns["weight_g"], strict=True):
        wrong = weight_mistake(green_g=green_g[piece], weight_g=weight_g)
        if wrong and "If that was kg" in wrong:
            found.append(f"row {row}: {wrong}")
    return found


def _airs(table: Table, places: Sequence[int]) -> list[AirAt]:
    """The air beside the rows at ``places``, where it was written."""
    columns = table.columns
    if "air_c" not in columns:
        return []
    humid = columns.get("rh_pct", ())
    return [
        AirAt(
            t_s=columns["t_s"][place],
            air_c=columns["air_c"][place],
            rh_pct=humid[place] if humid and not math.isnan(humid[place]) else None,
        )
        for place in places
        if not math.isnan(columns["air_c"][place])
    ]


def _plan(path: Path) -> list[AirAt]:
    table = read_columns(path, ["t_s", "air_c"], ["rh_pct"])
    if bad := _bad_rows(table, weights=False):
        raise BadTable(path, bad)
    return _airs(table, range(len(table.rows)))
