"""What goes wrong in the twin, as data: from when, until when, what, how much, on which channel."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated, Literal

from annotated_types import Ge, doc

FaultKind = Literal[
    "heater-dead",  # the element is open: no heat
    "heater-welded",  # the contact is welded: heat whatever is wanted
    "heater-weak",  # value: share of the heat that is left
    "cooler-dead",
    "cooler-welded",
    "cooler-weak",  # value: share of the cold that is left
    "humidifier-dead",  # its water has run out
    "humidifier-welded",
    "dehumidifier-dead",
    "fan-stopped",
    "fan-slow",  # value: share of the speed that is left
    "vent-stuck-open",
    "vent-stuck-shut",
    "door-open",
    "mains",  # value: voltage as a share of nominal; heat goes with its square
    "sensor-frozen",  # repeats its last value
    "sensor-silent",  # sends nothing
    "sensor-failed",  # answers with a failure
    "sensor-nan",  # answers with what is no number
    "sensor-value",  # value: what it reads, always
    "sensor-offset",  # value: added to each reading
    "sensor-reversed",  # reads as far below the room as it should read above it
    "sensor-swapped",  # reads what ``other`` should read
    "sensor-fallen-out",  # lies in the room; a core probe lies in the chamber's air
]
ON_A_CHANNEL: frozenset[str] = frozenset(
    {
        "sensor-frozen",
        "sensor-silent",
        "sensor-failed",
        "sensor-nan",
        "sensor-value",
        "sensor-offset",
        "sensor-reversed",
        "sensor-swapped",
        "sensor-fallen-out",
    }
)
SHARES: frozenset[str] = frozenset({"heater-weak", "cooler-weak", "fan-slow", "mains"})
NEEDS_VALUE: frozenset[str] = SHARES | {"sensor-value", "sensor-offset"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One fault. Times count from the twin's first poll."""

    at_s: Annotated[float, Ge(0.0), doc("When it begins, s.")]
    until_s: Annotated[float, Ge(0.0), doc("When it is over, s.")] = 1e12
    kind: Annotated[FaultKind, doc("What goes wrong.")]
    value: Annotated[
        float | None,
        doc("How much, where the kind needs it: a share that is left, a voltage share, a reading, an offset."),
    ] = None
    channel: Annotated[str, doc("Sensor it happens to: air, limit, humidity, core, ambient, a hook's name ...")] = "air"
    other: Annotated[str, doc("For swapped sensors: the other one.")] = "limit"

    def __post_init__(self) -> None:
        if self.until_s <= self.at_s:
            raise ValueError(f"until_s {self.until_s:g} is not after at_s {self.at_s:g}; a fault needs some time")
        if self.kind in NEEDS_VALUE and self.value is None:
            raise ValueError(f"{self.kind} needs a value")
        if self.kind in SHARES and not 0.0 <= self.amount <= 1.5:
            raise ValueError(f"value {self.amount:g} of {self.kind} is no share; use 0 to 1, for mains up to 1.5")

    @property
    def amount(self) -> float:
        """The value, 0 where the kind has none."""
        return self.value or 0.0


class Script:
    """Faults that are in force at a time."""

    __slots__ = ("_faults", "now", "on_channel", "turns")

    def __init__(self, faults: Sequence[Fault]) -> None:
        self._faults = tuple(faults)
        self.turns = sorted({t for fault in faults for t in (fault.at_s, fault.until_s)})
        self.now: dict[str, Fault] = {}
        self.on_channel: dict[str, Fault] = {}

    def at(self, elapsed_s: float) -> None:
        """Put those in force that hold at this time; the later entry wins where two are of one kind."""
        held = [f for f in self._faults if f.at_s <= elapsed_s < f.until_s]
        self.now = {f.kind: f for f in held if f.kind not in ON_A_CHANNEL}
        self.on_channel = {f.channel: f for f in held if f.kind in ON_A_CHANNEL}

    def share(self, kind: str) -> float:
        """Return the value of a fault that leaves a share of something; 1 where it does not hold."""
        fault = self.now.get(kind)
        return 1.0 if fault is None else fault.amount
