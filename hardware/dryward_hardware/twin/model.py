"""What every simulated chamber offers to the twin around it, and how it is driven."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from dryward_hardware.twin.piece import PieceBody
from dryward_hardware.twin.room import RoomAir

TICK_S = 0.25
"""The twin's time comes in whole ticks, so that it never drifts and never depends on how often it is polled."""

STEP_TICKS = 20
"""Longest single step of air and sensors: 5 s."""

PIECE_TICKS = 120
"""Pieces are stepped every 30 s; the air between feels them as straight lines."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Drive:
    """What the outputs really do, faults included. Shares of full power or speed; above 1 with too much voltage."""

    heat: float = 0.0
    fan: float = 0.0
    vent: bool = False
    door: bool = False
    cooler: float = 0.0
    humidifier: float = 0.0
    dehumidifier: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Ledger:
    """What has gone in and out since the start; masses in kg of water, energies in J above 0 degC and liquid water."""

    heater_j: float
    supplied_j: float  # all heat that power made inside: heater, fan, humidifier, dehumidifier
    electric_j: float  # the same and the compressor
    brought_j: float  # with the pieces as they were hung and the humidifier's water
    lost_j: float  # through walls, with exchanged air, by the cooler, from pieces beside the chamber
    stored_j: float  # more than at the start
    brought_kg: float
    lost_kg: float
    stored_kg: float
    evaporated_kg: float  # from the pieces


@dataclass(frozen=True, slots=True, kw_only=True)
class Condition:
    """State of the chamber beside its air. ``stalled_starts``: times a compressor was started too soon and did not turn."""

    wall_c: float
    wall_film_g: float = 0.0
    ice_g: float = 0.0
    stalled_starts: int = 0


class ChamberModel(Protocol):
    """A chamber whose insides can be advanced."""

    @property
    def air_c(self) -> float: ...
    @property
    def true_c(self) -> float:
        """Temperature of the air; ``air_c`` may have a sensor's lag in it already."""
        ...

    @property
    def limit_c(self) -> float: ...
    @property
    def rh_pct(self) -> float: ...
    @property
    def room(self) -> RoomAir: ...
    @property
    def inside(self) -> Sequence[PieceBody]: ...
    def drive(self, drive: Drive) -> None: ...
    def advance(self, ticks: int) -> None:
        """Go on by so many ticks, at most STEP_TICKS."""
        ...

    def put_in(self, piece: PieceBody, *, new: bool) -> None: ...
    def take_out(self, piece: PieceBody) -> None: ...
    def mass_g(self, piece: PieceBody) -> float: ...
    def condition(self) -> Condition: ...
    def ledger(self) -> Ledger: ...
