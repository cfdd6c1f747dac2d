"""``dryward calc``: the arithmetic of the trade, each piece of it usable with only a notebook and a scale."""

from __future__ import annotations

import click

from dryward.doors.lazy import LazyGroup

HERE = "dryward.doors.calc"


@click.group(
    cls=LazyGroup,
    commands_at={
        "loss": (f"{HERE}.loss:loss", "Target weight and loss of a piece."),
        "air": (f"{HERE}.air:air", "Dew point, wet bulb and the rest of moist air."),
    },
)
def calc() -> None:
    """The arithmetic of the trade."""
