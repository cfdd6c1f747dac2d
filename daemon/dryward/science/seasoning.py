"""A batch's seasoning, weighed: grams per piece from g/kg, rounded to what the scale can weigh, with the error shown."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from dryward.science.cure import CuringSalt, Ingoing, dry
from dryward.science.figures import not_above_zero, outside, refuse

COARSE_PCT = 5.0
"""A rounding error above this share of the dose is worth a finer scale. Common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ingredient:
    """``g_per_kg`` of green weight; ``step_g`` is the smallest step of the scale it is weighed on; ``cure`` set for a curing salt."""

    name: str
    g_per_kg: float
    step_g: float
    cure: CuringSalt | None = None
    is_salt: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Dose:
    """Grams to weigh out; ``exact_g`` before rounding; ``error_pct`` of the exact dose."""

    ingredient: str
    exact_g: float
    grams: float
    error_pct: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceSheet:
    """``ingoing`` and ``salt_pct`` (salt of the curing salt included) follow from the rounded grams."""

    piece: str
    green_g: float
    doses: tuple[Dose, ...]
    ingoing: Ingoing | None
    salt_pct: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """``totals``: the batch; its grams are the sums of the pieces' rounded grams."""

    pieces: tuple[PieceSheet, ...]
    totals: tuple[Dose, ...]
    warnings: tuple[str, ...]


def seasoning_sheet(pieces: Sequence[tuple[str, float]], ingredients: Sequence[Ingredient]) -> Sheet:
    """Work out what each piece (name, green weight in g) gets. Raises BadFigures."""
    refuse(*_mistakes(pieces, ingredients))
    sheets = tuple(_piece_sheet(name, green_g, ingredients) for name, green_g in pieces)
    totals = tuple(
        _dose(
            ingredient.name,
            sum(sheet.doses[place].exact_g for sheet in sheets),
            sum(sheet.doses[place].grams for sheet in sheets),
        )
        for place, ingredient in enumerate(ingredients)
    )
    warnings = [
        f"{sheet.piece}: {dose.ingredient} is {dose.exact_g:.2f} g and rounds to {dose.grams:g} g, {dose.error_pct:+.0f} %: use a finer scale, or mix it for the whole batch"
        for sheet in sheets
        for dose in sheet.doses
        if abs(dose.error_pct) > COARSE_PCT
    ]
    return Sheet(pieces=sheets, totals=totals, warnings=tuple(warnings))


def _piece_sheet(name: str, green_g: float, ingredients: Sequence[Ingredient]) -> PieceSheet:
    doses: list[Dose] = []
    ingoing: Ingoing | None = None
    salt_g = 0.0
    for ingredient in ingredients:
        exact_g = ingredient.g_per_kg * green_g / 1000.0
        grams = round(math.floor(exact_g / ingredient.step_g + 0.5) * ingredient.step_g, 6)
        doses.append(_dose(ingredient.name, exact_g, grams))
        if ingredient.cure is not None:
            ingoing = (
                dry(cure_g=grams, green_g=green_g, salt=ingredient.cure)
                if grams
                else Ingoing(nitrite_ppm=0.0, nitrate_ppm=0.0)
            )
            salt_g += grams * ingredient.cure.salt_pct / 100.0
        elif ingredient.is_salt:
            salt_g += grams
    return PieceSheet(
        piece=name, green_g=green_g, doses=tuple(doses), ingoing=ingoing, salt_pct=100.0 * salt_g / green_g
    )


def _dose(ingredient: str, exact_g: float, grams: float) -> Dose:
    return Dose(
        ingredient=ingredient,
        exact_g=exact_g,
        grams=round(grams, 6),
        error_pct=100.0 * (grams - exact_g) / exact_g if exact_g else 0.0,
    )


def _mistakes(pieces: Sequence[tuple[str, float]], ingredients: Sequence[Ingredient]) -> list[str | None]:
    found: list[str | None] = ["there is no piece to season"] if not pieces else []
    counted = Counter(name for name, _ in pieces)
    found += [
        f"{name} is there {times} times; each piece once, under its own name"
        for name, times in counted.items()
        if times > 1
    ]
    for name, green_g in pieces:
        cure = f"If that was kg, write {green_g * 1000:g}" if 0.0 < green_g < 20.0 else ""
        found.append(outside(f"green weight of {name}", green_g, "g", low=20.0, high=100_000.0, cure=cure))
    for ingredient in ingredients:
        found.append(not_above_zero(f"scale step of {ingredient.name}", ingredient.step_g, "g", high=50.0))
        if ingredient.is_salt and ingredient.g_per_kg:
            cure = (
                f"If that was per cent, write {ingredient.g_per_kg * 10:g} g/kg"
                if 0.0 < ingredient.g_per_kg < 5.0
                else ""
            )
            found.append(outside(ingredient.name, ingredient.g_per_kg, "g/kg", low=5.0, high=150.0, cure=cure))
        else:
            found.append(outside(ingredient.name, ingredient.g_per_kg, "g/kg", low=0.0, high=100.0))
    return found
