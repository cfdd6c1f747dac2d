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
        before = self.ratio
        if fall <= 1e-12:  # a tight, empty chamber
            self.ratio = before + give * dt_s / self.air_kg
            return (before + self.ratio) / 2.0 * dt_s
        level = give / fall
        self.ratio = level + (before - level) * exp(-fall * dt_s / self.air_kg)
        return level * dt_s + (before - self.ratio) * self.air_kg / fall


class WetSurface:
    """A surface that is wetted by air above its dew point and dries again. It gives ``give - fall * W`` kg/s."""

    __slots__ = ("fall", "give", "kg")

    def __init__(self) -> None:
        self.kg = self.give = self.fall = 0.0

    def face(
        self, dt_s: float, *, mass_kg_s: float, saturated: float, vapour: Vapour, beside_kg_s: float = 0.0
    ) -> None:
        """Meet the air for ``dt_s``. A film too thin to last is given evenly, so that no more is given than there is.

        ``beside_kg_s`` is what another surface exchanges with the same air. Where both together turn that air over
        within the step, each gives or takes only until the air is at the surface: else two would take its water twice.
        """
        self.fall = 0.0
        turns = (mass_kg_s + beside_kg_s) * dt_s / vapour.air_kg
        if self.kg >= mass_kg_s * saturated * dt_s > 0.0:
            self.fall, self.give = mass_kg_s, mass_kg_s * saturated
        elif turns > 1.0:
            self.give = min(self.kg / dt_s, mass_kg_s * (saturated - vapour.ratio) * (1.0 - exp(-turns)) / turns)
        elif vapour.ratio > saturated:  # dew on a dry surface: what the air alone would leave on it
            self.give = (
                (saturated - vapour.ratio) * vapour.air_kg * (1.0 - exp(-mass_kg_s * dt_s / vapour.air_kg)) / dt_s
            )
        else:
            self.give = min(self.kg / dt_s, mass_kg_s * (saturated - vapour.ratio))

    def gave(self, dt_s: float, ratio_s: float) -> float:
        """Take off what was given in ``dt_s`` to air whose ratio's integral was ``ratio_s``; returns it, kg."""
        given_kg = self.give * dt_s - self.fall * ratio_s
        self.kg = max(0.0, self.kg - given_kg)
        return given_kg
