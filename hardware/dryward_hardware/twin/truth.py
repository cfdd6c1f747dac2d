"""What is really so inside the twin: for rehearsals, reviews of the forecast, and tests."""

from __future__ import annotations

from dataclasses import dataclass

from dryward_hardware.twin.model import Condition, Ledger


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceTruth:
    """One piece. ``moisture`` values are kg of water per kg of dry matter."""

    name: str
    hanging: bool
    channel: str | None
    green_g: float
    mass_g: float
    moisture: float
    surface_moisture: float
    surface_activity: float
    surface_c: float
    core_c: float
    mean_c: float

    @property
    def loss_pct(self) -> float:
        """Share of the green weight that is gone, per cent."""
        return 100.0 * (1.0 - self.mass_g / self.green_g)


@dataclass(frozen=True, slots=True, kw_only=True)
class Truth:
    """The twin at a moment. Times count from its first poll."""

    elapsed_s: float
    air_c: float
    rh_pct: float
    room_c: float
    room_rh_pct: float
    door_open: bool
    heating: bool
    pieces: tuple[PieceTruth, ...]
    condition: Condition
    ledger: Ledger

    @property
    def energy_j(self) -> float:
        """Electric energy used, J."""
        return self.ledger.electric_j

    @property
    def evaporated_g(self) -> float:
        """Water the pieces have given, g."""
        return 1000.0 * self.ledger.evaporated_kg
