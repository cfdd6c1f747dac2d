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
        "brine": (f"{HERE}.brine:brine", "Strength and water activity of salt in water."),
        "cure": (f"{HERE}.cure:cure", "Nitrite and nitrate of a curing salt against a limit."),
        "drying": (f"{HERE}.drying:drying", "Water left, salt in it and estimated water activity."),
        "lethality": (f"{HERE}.lethality:lethality", "What the record of a core probe adds up to."),
        "seasoning": (f"{HERE}.seasoning:seasoning", "Grams of salt, curing salt and spices for each piece."),
        "forecast": (f"{HERE}.forecast:forecast", "When each piece will be done, from its weighings."),
        "statement": (f"{HERE}.statement:statement", "What can be said of a finished piece, and its label."),
        "yield": (f"{HERE}.yields:finished_yield", "Finished weight and cost per finished kg."),
    },
)
def calc() -> None:
    """The arithmetic of the trade."""
