"""How every ``calc`` command answers: lines for people, or one JSON object with ``--json``."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager

import click

from dryward.science.figures import BadFigures

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
