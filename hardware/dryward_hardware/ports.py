"""What a device is to the rest: readings come in batches, outputs are wanted again and again, errors have one tree.

Times are seconds on the caller's clock: ``time.monotonic()`` for real devices, the simulated clock for the twin and
for recordings. A value of None with ``fault`` set is a sample that failed; silence is staleness.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple, Protocol, runtime_checkable

from dryward_hardware.lines import DeviceError as DeviceError
from dryward_hardware.lines import DevicesError as DevicesError
from dryward_hardware.lines import LineSpec as LineSpec


class Sample(NamedTuple):
    """One value of one channel named ``DEVICE/VALUE``: ``top/temperature``, ``top/humidity``, ``frame/door``, ``hook-1/weight``."""

    channel: str
    value: float | None
    sampled_s: float
    fault: str = ""


@dataclass(frozen=True, slots=True)
class PieceWeight:
    """A weighing of a named piece, from a recording that plays the part of a kitchen scale."""

    piece: str
    weight_g: float
    sampled_s: float


@dataclass(frozen=True, slots=True)
class Batch:
    """Everything that arrived since the last poll."""

    samples: tuple[Sample, ...] = ()
    weights: tuple[PieceWeight, ...] = ()
    notes: tuple[str, ...] = ()
    finished: bool = False  # a recording has been played to its end


@runtime_checkable
class Source(Protocol):
    """Anything that measures."""

    def poll(self, now_s: float) -> Batch:
        """Return what arrived up to ``now_s``; never blocks, never raises for a device's fault."""
        ...

    def close(self) -> None: ...


@runtime_checkable
class Outputs(Protocol):
    """Anything that switches. ``want`` must be called again within the lease or everything goes to its safe state."""

    def want(self, on: frozenset[str], now_s: float) -> None: ...

    def actual(self) -> frozenset[str]:
        """Names of the outputs that are on, as far as known."""
        ...

    def close(self) -> None: ...


@dataclass(frozen=True, slots=True, kw_only=True)
class DeviceSpec:
    """One device as configured: its kind and its own options, already checked."""

    name: str
    kind: str
    options: Mapping[str, object]


@dataclass(frozen=True, slots=True, kw_only=True)
class Hung:
    """A piece as it hangs in a simulated chamber."""

    name: str
    green_g: float
    thickness_mm: float | None = None
    channel: str | None = None  # the weight channel of the cell it hangs on
