"""The room around a chamber: day and night, its moisture, the mains."""

from __future__ import annotations

from math import cos, pi, sin

from dryward_hardware.twin.moist_air import humidity_ratio, saturation_pa, vapour_pa
from dryward_hardware.twin.options import Room

DAY_S = 86_400.0
MAINS_PERIODS_S = (5400.0, 1380.0)
"""Two periods without a common measure stand for neighbours who switch their ovens on (no source)."""


class RoomAir:
    """Temperature, humidity ratio and mains voltage at a time. The water in the room's air does not change."""

    __slots__ = ("_room", "air_c", "mains", "ratio")

    def __init__(self, room: Room) -> None:
        self._room = room
        self.ratio = humidity_ratio(room.rh_pct / 100.0 * saturation_pa(room.air_c))
        self.air_c = room.air_c
        self.mains = 1.0
        self.at(0.0)

    def at(self, elapsed_s: float) -> None:
        """Move to a time since the start."""
        room = self._room
        if room.day_swing_k:
            self.air_c = room.air_c - room.day_swing_k * cos(2 * pi * (elapsed_s / DAY_S - room.coldest_h / 24.0))
        if room.mains_swing:
            slow, quick = MAINS_PERIODS_S
            self.mains = 1.0 + room.mains_swing * (
                0.7 * sin(2 * pi * elapsed_s / slow) + 0.3 * sin(2 * pi * elapsed_s / quick)
            )

    @property
    def rh_pct(self) -> float:
        """Relative humidity now; never above saturation."""
        return min(100.0, 100.0 * vapour_pa(self.ratio) / saturation_pa(self.air_c))
