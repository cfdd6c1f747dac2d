"""Annotated number types of the trade, so that a limit is written once and read by settings, schema and docs."""

from __future__ import annotations

from typing import Annotated

from annotated_types import Ge, Gt, Le, MaxLen, MinLen, Predicate

_LETTERS = frozenset("abcdefghijklmnopqrstuvwxyz0123456789-")


def is_name(text: str) -> bool:
    """Tell whether a text can stand in a topic, a file name and a command: ``[a-z0-9][a-z0-9-]*``."""
    return _LETTERS.issuperset(text) and not text.startswith("-")


Name = Annotated[str, MinLen(1), MaxLen(32), Predicate(is_name)]
"""A name of ours: lower-case letters, digits and hyphens, not beginning with a hyphen."""

AirC = Annotated[float, Ge(-10.0), Le(120.0)]
RhPct = Annotated[float, Ge(0.0), Le(100.0)]
BandK = Annotated[float, Gt(0.0), Le(40.0)]
LossPct = Annotated[float, Ge(1.0), Le(90.0)]
Grams = Annotated[float, Gt(0.0), Le(100_000.0)]
Watts = Annotated[float, Ge(0.0), Le(20_000.0)]
Seconds = Annotated[float, Ge(0.0), Le(31_536_000.0)]
Hours = Annotated[float, Gt(0.0), Le(8_760.0)]
Gpio = Annotated[int, Ge(0), Le(27)]
OutputGpio = Annotated[int, Ge(9), Le(27)]
"""A line fit for an output: 0-8 are pulled up while the Pi boots, 9-27 are pulled down."""
