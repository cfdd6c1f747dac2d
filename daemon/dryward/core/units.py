"""Annotated number types of the trade, so that a limit is written once and read by settings, schema and docs."""

from __future__ import annotations

from typing import Annotated

from annotated_types import Ge, Gt, Le, MaxLen, MinLen

Name = Annotated[str, MinLen(1), MaxLen(32)]
"""A name of ours: lower-case letters, digits and hyphens, so that it can stand in a topic, a file name, a command."""

AirC = Annotated[float, Ge(-10.0), Le(120.0)]
RhPct = Annotated[float, Ge(0.0), Le(100.0)]
BandK = Annotated[float, Gt(0.0), Le(40.0)]
LossPct = Annotated[float, Gt(0.0), Le(90.0)]
Grams = Annotated[float, Gt(0.0), Le(100_000.0)]
Watts = Annotated[float, Ge(0.0), Le(20_000.0)]
Seconds = Annotated[float, Ge(0.0), Le(31_536_000.0)]
Hours = Annotated[float, Gt(0.0), Le(8_760.0)]
Gpio = Annotated[int, Ge(0), Le(27)]
