"""How a fact is told: one sentence and what it stands on. Facts and margins, no promise."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Basis = Literal["measured", "estimate", "not credited", "caution"]

KEEP_COLD = "Keep it at or below 4.4 degC, or freeze it."
"""USDA: cold storage at or below 40 degF."""

WHO_DECIDES = "Local food codes and licensed practice decide; a laboratory water activity decides shelf life. When in doubt keep it cold or throw it away."


@dataclass(frozen=True, slots=True)
class Statement:
    """One sentence and what it stands on."""

    basis: Basis
    text: str

    def __str__(self) -> str:
        return f"[{self.basis}] {self.text}"


def duration(seconds: float) -> str:
    """Write a time as people say it: ``5 h 12 min``."""
    minutes = round(seconds / 60.0)
    return f"{minutes // 60} h {minutes % 60} min" if minutes >= 60 else f"{minutes} min"
