"""What an output line is, and how a device says that it failed. Part of ``ports``, which everybody else imports.

Apart from it because the keeper shall stay small, and ``typing`` alone is a megabyte.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class LineSpec:
    """One output line as the keeper needs it."""

    name: str
    gpio: int | None
    active_high: bool = True
    safe_on: bool = False
    min_on_s: float = 0.0
    min_off_s: float = 0.0


class DeviceError(Exception):
    """A device could not be opened or has failed. ``device`` names it."""

    def __init__(self, device: str, text: str) -> None:
        super().__init__(f"{device}: {text}")
        self.device = device


class DevicesError(DeviceError):
    """Several devices failed at once; the text lists them all."""

    def __init__(self, errors: Sequence[DeviceError]) -> None:
        super().__init__(", ".join(e.device for e in errors), "; ".join(str(e) for e in errors))
        self.errors = tuple(errors)
