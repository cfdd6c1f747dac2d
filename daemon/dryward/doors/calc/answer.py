"""How every ``calc`` command answers: lines for people, or one JSON object with ``--json``."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import Any

import click

from dryward.science.figures import BadFigures


class Number(click.ParamType[float]):
    """A number as people type it: ``13.5`` or ``13,5``."""

    name = "number"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        try:
            return float(str(value).replace(",", "."))
        except ValueError:
            self.fail(f"{value!r} is no number. Write it like 25 or 2.5.", param, ctx)


NUMBER = Number()


class Finite(click.FloatRange):
    """A range that refuses "nan", which compares as inside of every range, and figures without end."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        number = float(super().convert(NUMBER.convert(value, param, ctx), param, ctx))
        if not math.isfinite(number):
            self.fail(f"{value} is no number to reckon with.", param, ctx)
        return number


json_option = click.option("--json", "as_json", is_flag=True, help="Answer as one JSON object.")


def answer(values: Mapping[str, object], lines: Sequence[str], *, as_json: bool) -> None:
    """Print ``values`` as JSON or ``lines`` as text."""
    click.echo(json.dumps(values, indent=2, allow_nan=False, ensure_ascii=False) if as_json else "\n".join(lines))


@contextmanager
def used_rightly() -> Iterator[None]:
    """Turn figures that cannot be into a usage error (exit code 2) that lists them all."""
    try:
        yield
    except BadFigures as error:
        raise click.UsageError(str(error)) from error
