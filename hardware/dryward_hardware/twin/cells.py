"""Load cells as they are: creep after a change of load, a zero that wanders with their temperature, a rack that shakes."""

from __future__ import annotations

from collections.abc import Callable
from math import exp

from dryward_hardware.twin.model import TICK_S
from dryward_hardware.twin.options import Sensing
from dryward_hardware.twin.probes import Chance, Lag

CREEP_S = 600.0  # most of a cell's creep is over in 30 minutes (OIML R 60 judges it at 30 min)
CELL_LAG_S = 1800.0  # a cell and its bracket follow the air slowly (no source)
KNOCK_S = 4.0  # a knocked rack swings itself out in some such time (no source)


class Frame:
    """What all cells of a chamber share: their temperature, the fan's shaking, the last knock."""

    __slots__ = ("_share", "cell_c", "fan", "knocked_tick", "start_c")

    def __init__(self, *, room_c: float, air_c: float, air_share: float) -> None:
        self._share = air_share
        self.start_c = room_c + air_share * (air_c - room_c)
        self.cell_c = Lag(CELL_LAG_S, self.start_c)
        self.fan = 0.0
        self.knocked_tick = -1_000_000

    def follow(self, *, room_c: float, air_c: float, ticks: int) -> None:
        """Go on by so many ticks in a room and air of these temperatures."""
        self.cell_c.follow(room_c + self._share * (air_c - room_c), ticks)


class LoadCell:
    """One cell under a load, its own drift given by the seed and its name."""

    __slots__ = ("_chance", "_drift_g_k", "_frame", "_load_g", "_salt", "_sensing", "_settled", "_tick")

    def __init__(
        self, load_g: Callable[[], float], *, sensing: Sensing, frame: Frame, chance: Chance, salt: int
    ) -> None:
        self._load_g = load_g
        self._sensing = sensing
        self._frame = frame
        self._chance = chance
        self._salt = salt
        self._settled = Lag(CREEP_S, load_g())
        self._tick = 0
        self._drift_g_k = sensing.weight_drift_g_per_5k / 5.0 * (2.0 * chance.uniform(0, salt) - 1.0)

    def shown_g(self, tick: int) -> float:
        """Return what the cell shows at this tick, before noise and resolution."""
        s, frame, load_g = self._sensing, self._frame, self._load_g()
        if tick > self._tick:
            self._settled.follow(load_g, tick - self._tick)
            self._tick = tick
        shown_g = load_g - s.weight_creep_share * (load_g - self._settled.shown)
        shown_g += self._drift_g_k * (frame.cell_c.shown - frame.start_c)
        if frame.fan:
            shown_g += s.weight_fan_g * frame.fan * self._chance.gauss(tick, self._salt + 1)
        since_s = (tick - frame.knocked_tick) * TICK_S
        if since_s < 10.0 * KNOCK_S:
            shown_g += s.weight_knock_g * exp(-since_s / KNOCK_S) * self._chance.gauss(tick, self._salt + 2)
        return shown_g
