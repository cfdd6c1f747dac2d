"""One row of the table of alarms: what it is, how it is debounced, what it does, what a person is told."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from dryward.core.commands import Severity

Effect = Literal["tell", "trip", "abort"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One row. ``on_s`` and ``off_s`` are the debounce, ``dead_band`` the room inside the limit in which an alarm goes on.

    A ``trip`` takes the heat away and holds the run; an ``abort`` is a trip that ends it. ``severity`` is how loudly a
    mere ``tell`` is told.
    """

    key: str
    row: str
    effect: Effect
    cause: str
    severity: Severity = "alarm"
    on_s: float = 0.0
    off_s: float = 30.0
    dead_band: float = 0.0
    happened: str
    meaning: str
    advice: str

    @property
    def trips(self) -> bool:
        """Whether it latches and takes the heat away."""
        return self.effect != "tell"
