"""``calc seasoning``: the sheet to weigh a batch's salt, curing salt and spices by."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING

import click

from dryward.doors.calc.answer import NUMBER, answer, json_option, used_rightly
from dryward.doors.calc.cure import BLENDS
from dryward.doors.calc.grams import Grams

if TYPE_CHECKING:
    from dryward.science.cold_rest import ColdRest
    from dryward.science.seasoning import Ingredient, Sheet

ABOVE = ", ABOVE THE LIMIT: do not use it"


@click.command()
@click.option(
    "--piece",
    "pieces",
    multiple=True,
    metavar="NAME=GRAMS",
    help="A piece and its green weight; may be given again for each.",
)
@click.option(
    "--pieces",
    "batch",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    help="A batch file, as for 'dryward load'.",
)
@click.option("--salt", "salt_g", type=Grams(), required=True, help="Salt, g per kg of green weight (25 is 2.5 %).")
@click.option("--cure", "cure_g", type=Grams(), help="Curing salt, g per kg; needs --blend.")
@click.option("--blend", type=click.Choice(list(BLENDS)), help="Which curing salt it is.")
@click.option(
    "--spice", "spices", multiple=True, metavar="NAME=GRAMS", help="A spice, g per kg; may be given again for each."
)
@click.option(
    "--scale-g", type=NUMBER, default=1.0, show_default=True, help="Smallest step of the scale for salt and spices, g."
)
@click.option(
    "--fine-scale-g", type=NUMBER, default=0.1, show_default=True, help="Smallest step of the scale for curing salt, g."
)
@click.option("--rest-days", type=NUMBER, help="Cold rest, days: your choice; adds the plan.")
@click.option("--rest-c", type=NUMBER, default=3.0, show_default=True, help="Temperature of the cold rest, degC.")
@click.option("--turn-every-h", type=NUMBER, default=24.0, show_default=True, help="Time between turns, h.")
@json_option
def seasoning(
    pieces: tuple[str, ...], batch: Path | None, salt_g: float, cure_g: float | None, blend: str | None, spices: tuple[str, ...],
    scale_g: float, fine_scale_g: float, rest_days: float | None, rest_c: float, turn_every_h: float, as_json: bool,
) -> None:  # fmt: skip
    """Grams of everything for each piece, rounded to your scale, with the rounding error.

    \b
    dryward calc seasoning --piece loin-1=812 --piece loin-2=764 --salt 25 --cure 2.5 --blend type-1 --spice pepper=4
    """
    from dryward.science.cold_rest import cold_rest
    from dryward.science.seasoning import Ingredient, seasoning_sheet

    if (cure_g is None) != (blend is None):
        raise click.UsageError(
            "--cure and --blend belong together: grams of curing salt mean nothing without its strength."
        )
    recipe: list[Ingredient] = [Ingredient(name="salt", g_per_kg=salt_g, step_g=scale_g, is_salt=True)]
    if cure_g is not None and blend is not None:
        recipe.append(Ingredient(name=f"curing salt {blend}", g_per_kg=cure_g, step_g=fine_scale_g, cure=BLENDS[blend]))
    recipe += [Ingredient(name=name, g_per_kg=grams, step_g=scale_g) for name, grams in map(_named_grams, spices)]
    with used_rightly():
        sheet = seasoning_sheet([*_from_file(batch), *map(_named_grams, pieces)], recipe)
        rest = None if rest_days is None else cold_rest(days=rest_days, air_c=rest_c, turn_every_h=turn_every_h)
    answer(
        _values(sheet, rest),
        [*_sheet_lines(sheet), *_cure_lines(sheet), *sheet.warnings, *_rest_lines(rest)],
        as_json=as_json,
    )


def _named_grams(text: str) -> tuple[str, float]:
    name, equals, grams = text.partition("=")
    if not equals or not name.strip():
        raise click.UsageError(f"{text!r} is not NAME=GRAMS, like loin-1=812.")
    return name.strip(), Grams().convert(grams, None, None)


def _from_file(batch: Path | None) -> list[tuple[str, float]]:
    if batch is None:
        return []
    from dryward.settings.mistakes import SettingsError
    from dryward.settings.pieces import read_pieces

    try:
        return [(piece.name, piece.green_g) for piece in read_pieces(batch)]
    except SettingsError as error:
        raise click.ClickException(str(error)) from error


def _sheet_lines(sheet: Sheet) -> list[str]:
    names = [dose.ingredient for dose in sheet.totals]
    wide = max(9, *(len(piece.piece) for piece in sheet.pieces))
    rows = [f"{'grams':<{wide}} {'green':>8} " + " ".join(f"{name:>18}" for name in names)]
    rows += [
        f"{piece.piece:<{wide}} {piece.green_g:8.0f} " + " ".join(f"{dose.grams:9.10g} ({dose.error_pct:+5.1f}%)" for dose in piece.doses)
        for piece in sheet.pieces
    ]  # fmt: skip
    return [
        *rows,
        f"{'batch':<{wide}} {sum(piece.green_g for piece in sheet.pieces):8.0f} "
        + " ".join(f"{dose.grams:9.10g} ({dose.error_pct:+5.1f}%)" for dose in sheet.totals),
    ]


def _cure_lines(sheet: Sheet) -> list[str]:
    """Nitrite of each piece as weighed out, held against the strictest limit listed."""
    from dryward.science.cure import limit_for, most_cure_g, within

    limit = limit_for("dry")
    lines = [f"{piece.piece}: {piece.salt_pct:.2f} % salt in all" for piece in sheet.pieces]
    for place, piece in enumerate(sheet.pieces):
        if piece.ingoing is not None:
            kept = within(piece.ingoing, limit)
            most_g = (
                math.floor(100.0 * most_cure_g(piece.doses[1].grams, piece.ingoing, limit) + 1e-6) / 100.0
                if not kept
                else 0.0
            )
            verdict = "" if kept else f"{ABOVE}, at most {most_g:g} g of curing salt keeps to it"
            nitrite = f"{piece.ingoing.nitrite_ppm:.{0 if kept else 1}f}"
            nitrate = f", nitrate {piece.ingoing.nitrate_ppm:.0f} ppm" if piece.ingoing.nitrate_ppm else ""
            lines[place] += f", nitrite {nitrite} ppm{nitrate} (limit {limit.nitrite_ppm:g}, {limit.source}){verdict}"
    return lines


def _rest_lines(rest: ColdRest | None) -> list[str]:
    from dryward.science.cold_rest import COMMON

    if rest is None:
        return []
    turns = ", ".join(f"{hour:g}" for hour in rest.turn_at_h)
    warm = [f"{rest.air_c:g} degC is too warm for it: at or below 4.4 degC (USDA)."] if rest.too_warm else []
    return [
        f"Cold rest: {rest.days:g} days at {rest.air_c:g} degC, your choice; turn after {turns} h."
        if turns
        else f"Cold rest: {rest.days:g} days at {rest.air_c:g} degC, your choice.",
        *warm,
        "Beside it: " + "; ".join(COMMON) + ".",
    ]


def _values(sheet: Sheet, rest: ColdRest | None) -> dict[str, object]:
    from dataclasses import asdict

    values: dict[str, object] = asdict(sheet)
    values["warnings"] = [*(line for line in _cure_lines(sheet) if ABOVE in line), *sheet.warnings]
    return values | ({"cold_rest": asdict(rest)} if rest is not None else {})
