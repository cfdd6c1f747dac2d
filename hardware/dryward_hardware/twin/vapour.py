"""Vapour in the chamber's air, and wet walls or coils that take it up or give it back."""

from __future__ import annotations

from math import exp


class Vapour:
    """The water in a volume of air, as its humidity ratio (kg/kg)."""

    __slots__ = ("air_kg", "ratio")

    def __init__(self, *, air_kg: float, ratio: float) -> None:
        self.air_kg = air_kg
        self.ratio = ratio

    def step(self, dt_s: float, give: float, fall: float) -> float:
        """Go on by ``dt_s`` while ``give - fall * ratio`` kg/s come in (exact); returns the integral of the ratio over it."""
        level = give / fall
        before = self.ratio
        self.ratio = level + (before - level) * exp(-fall * dt_s / self.air_kg)
        return level * dt_s + (before - self.ratio) * self.air_kg / fall


class WetSurface:
    """A surface that is wetted by air above its dew point and dries again. It gives ``give - fall * W`` kg/s."""

    __slots__ = ("fall", "give", "kg")

    def __init__(self) -> None:
        self.kg = self.give = self.fall = 0.0

    def face(self, dt_s: float, *, mass_kg_s: float, saturated: float, ratio: float) -> None:
        """Meet air of this humidity ratio for ``dt_s``; a dry surface gives nothing, a wet one not more than it has."""
        if ratio <= saturated:
            most = mass_kg_s * (saturated - ratio) * dt_s
            mass_kg_s = 0.0 if self.kg <= 0.0 else mass_kg_s if most <= self.kg else mass_kg_s * self.kg / most
        self.fall = mass_kg_s
        self.give = mass_kg_s * saturated

    def gave(self, given_kg: float, vapour: Vapour) -> None:
        """Take what was given off its film; if the film ended before, the air never got the rest."""
        self.kg -= given_kg
        if self.kg < 0.0:
            vapour.ratio += self.kg / vapour.air_kg
            self.kg = 0.0
