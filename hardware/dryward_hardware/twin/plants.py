"""Plain heated bodies: first order, dead time, sensor lag. Solved exactly, so that control figures can be checked by hand.

The three named ones are the reference plants on which dryward's control is judged.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from math import exp

from dryward_hardware.twin.model import TICK_S, Condition, Drive, Ledger
from dryward_hardware.twin.moist_air import saturation_pa, vapour_pa
from dryward_hardware.twin.options import Body, TwinOptions
from dryward_hardware.twin.piece import PieceBody
from dryward_hardware.twin.room import RoomAir

PLANTS: dict[str, Body] = {
    "small-fan-box": Body(rise_k=128.0, time_constant_s=900.0, dead_s=20.0, lag_s=15.0),
    "slow-box": Body(rise_k=128.0, time_constant_s=2400.0, dead_s=60.0, lag_s=40.0),
    "overpowered": Body(rise_k=198.0, time_constant_s=400.0, dead_s=15.0, lag_s=15.0),
}


class PlantModel:
    """A heated body. Its temperature is what the sensor shows, lag and dead time included; pieces in it keep their weight."""

    def __init__(self, options: TwinOptions) -> None:
        self._body = options.body or PLANTS[options.model]
        self.room = RoomAir(options.room)
        self._true_c = self._air_c = self.room.air_c if options.start_c is None else options.start_c
        self._drive = Drive()
        self._elapsed = 0
        self._dead = round(self._body.dead_s / TICK_S)
        self._coming: deque[tuple[int, float]] = deque()  # (tick at which it shows, share of full power)
        self._felt = 0.0
        self._inside: list[PieceBody] = []

    @property
    def air_c(self) -> float:
        return self._air_c

    @property
    def limit_c(self) -> float:
        return self._air_c

    @property
    def true_c(self) -> float:
        """Temperature of the body without the sensor's lag."""
        return self._true_c

    @property
    def rh_pct(self) -> float:
        """Humidity of the room's air at the body's temperature."""
        return min(100.0, 100.0 * vapour_pa(self.room.ratio) / saturation_pa(self._true_c))

    @property
    def inside(self) -> Sequence[PieceBody]:
        return self._inside

    def condition(self) -> Condition:
        return Condition(wall_c=self._true_c)

    def mass_g(self, piece: PieceBody) -> float:
        return piece.mass_g

    def put_in(self, piece: PieceBody, *, new: bool) -> None:
        self._inside.append(piece)

    def take_out(self, piece: PieceBody) -> None:
        self._inside.remove(piece)

    def drive(self, drive: Drive) -> None:
        """Take new outputs from now on; the heat shows after the dead time."""
        self._drive = drive
        self._feed()

    def _feed(self) -> None:
        share = self._drive.heat * self.room.mains**2
        last = self._coming[-1][1] if self._coming else self._felt
        if share != last:
            self._coming.append((self._elapsed + self._dead, share))

    def advance(self, ticks: int) -> None:
        """Go on by so many ticks."""
        end = self._elapsed + ticks
        self.room.at(self._elapsed * TICK_S)
        self._feed()
        while self._elapsed < end:
            while self._coming and self._coming[0][0] <= self._elapsed:
                self._felt = self._coming.popleft()[1]
            part = min(end, self._coming[0][0] if self._coming else end) - self._elapsed
            self._step(part * TICK_S)
            self._elapsed += part

    def _step(self, dt_s: float) -> None:
        """Exact solution of body and sensor while the heat does not change."""
        body = self._body
        loss = body.door_factor if self._drive.door else 1.0
        tau = body.time_constant_s / loss
        level = self.room.air_c + body.rise_k * self._felt / loss
        away = self._true_c - level
        self._true_c = level + away * exp(-dt_s / tau)
        lag = body.lag_s
        if lag <= 0.0:
            self._air_c = self._true_c
        else:
            if abs(tau - lag) < 1e-6 * tau:  # the two exponentials would coincide
                lag *= 1.0 + 1e-5
            part = away * tau / (tau - lag)
            self._air_c = level + part * exp(-dt_s / tau) + (self._air_c - level - part) * exp(-dt_s / lag)

    def ledger(self) -> Ledger:
        """Return empty accounts: a body without a heater's watts has none."""
        return Ledger(
            heater_j=0.0,
            supplied_j=0.0,
            electric_j=0.0,
            brought_j=0.0,
            lost_j=0.0,
            stored_j=0.0,
            brought_kg=0.0,
            lost_kg=0.0,
            stored_kg=0.0,
            evaporated_kg=0.0,
        )
