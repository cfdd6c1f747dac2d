"""Weights as people type them, on the command line; spoons are refused with the reason."""

from __future__ import annotations

import re

import click

_SPOON = re.compile(r"(tsp|tbsp|tbs|teaspoon|tablespoon|spoon|cup|handful|pinch)(s|ful|fuls|es)?\b", re.IGNORECASE)
_UNIT = re.compile(r"\s*(g|g/kg)\s*$")


class Grams(click.ParamType[float]):
    """A number of grams: ``25``, ``2.5``, ``2,5``, ``25 g``."""

    name = "grams"

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> float:
        if isinstance(value, float):
            return value
        text = str(value)
        if _SPOON.search(text):
            self.fail(
                f"{text!r} is no weight: a spoon of coarse salt and one of fine differ by half and more (common practice, no source). Weigh it and write grams.",
                param,
                ctx,
            )
        try:
            return float(_UNIT.sub("", text).replace(",", "."))
        except ValueError:
            self.fail(f"{text!r} is no number of grams. Write it like 25 or 2.5.", param, ctx)
