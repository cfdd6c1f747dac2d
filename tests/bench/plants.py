"""The three reference plants of the regulation figures: a heated body, a dead time, a sensor that lags. Stepped exactly.

Figures: the project's own requirement (small fan box, slow box, overpowered box; 22 degC room, 80 degC target).
"""

from __future__ import annotations

import math
import random
from collections import deque
from dataclasses import dataclass, replace

from dryward.core.chamber import Plant

ROOM_C = 22.0
TARGET_C = 80.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """One plant: full-power rise K, time constant, dead time and sensor lag in s."""

    name: str
    gain_k: float
    time_constant_s: float
    dead_time_s: float
    lag_s: float

    def changed(self, *, gain: float = 1.0, time_constant: float = 1.0, dead_time: float = 1.0) -> Figures:
        """Return the plant with its figures multiplied."""
        return replace(
            self, gain_k=self.gain_k * gain, time_constant_s=self.time_constant_s * time_constant, dead_time_s=self.dead_time_s * dead_time
        )  # fmt: skip


REFERENCE = (
    Figures(name="small fan box", gain_k=128.0, time_constant_s=900.0, dead_time_s=20.0, lag_s=15.0),
    Figures(name="slow box", gain_k=128.0, time_constant_s=2400.0, dead_time_s=60.0, lag_s=40.0),
    Figures(name="overpowered", gain_k=198.0, time_constant_s=400.0, dead_time_s=15.0, lag_s=15.0),
)


def tuned(figures: Figures) -> Plant:
    """Return the plant as a chamber that was tuned exactly knows it."""
    return Plant(
        gain_k=figures.gain_k,
        time_constant_s=figures.time_constant_s,
        dead_time_s=figures.dead_time_s,
        lag_s=figures.lag_s,
    )


class Box:
    """A plant in time. ``air_c`` is the air, ``sensor_c`` what the lagging sensor has reached, without its noise."""

    def __init__(self, figures: Figures, *, start_c: float = ROOM_C, room_c: float = ROOM_C) -> None:
        self.figures = figures
        self.room_c = room_c
        self.air_c = self.sensor_c = start_c
        self._acts = False  # the heater as the air feels it, a dead time late
        self._coming: deque[tuple[float, bool]] = deque()
        self._last = False
        self.load_k = 0.0  # steady fall below the room's pull: evaporation, an open flap

    def step(self, *, on: bool, dt_s: float, now: float) -> None:
        """Let ``dt_s`` pass with the heater as given."""
        if on is not self._last:
            self._coming.append((now + self.figures.dead_time_s, on))
            self._last = on
        at, end = now, now + dt_s
        while self._coming and self._coming[0][0] < end:
            when, acts = self._coming.popleft()
            self._flow(when - at)
            at, self._acts = when, acts
        self._flow(end - at)

    def _flow(self, dt_s: float) -> None:
        f = self.figures
        goal_c = self.room_c - self.load_k + (f.gain_k if self._acts else 0.0)
        away = self.air_c - goal_c
        mixed = away * f.time_constant_s / (f.time_constant_s - f.lag_s)
        decay, settle = math.exp(-dt_s / f.time_constant_s), math.exp(-dt_s / f.lag_s)
        self.sensor_c = goal_c + mixed * decay + (self.sensor_c - goal_c - mixed) * settle
        self.air_c = goal_c + away * decay


class Thermometer:
    """Samples every 2 s, 0.1 K of noise, 0.1 K steps; ``noise_k`` 0 and ``step_k`` 0 for none."""

    def __init__(self, *, seed: int, noise_k: float = 0.1, step_k: float = 0.1, every_s: float = 2.0) -> None:
        self._chance = random.Random(seed)
        self._noise_k, self._step_k, self._every_s = noise_k, step_k, every_s
        self._next_s = -math.inf
        self.sampled_s = 0.0
        self.shows_c = math.nan

    def read(self, true_c: float, now: float) -> float:
        """Return the last sample, taken anew when its time has come."""
        if now >= self._next_s:
            value = true_c + (self._chance.gauss(0.0, self._noise_k) if self._noise_k else 0.0)
            self.shows_c = round(value / self._step_k) * self._step_k if self._step_k else value
            self.sampled_s, self._next_s = now, now + self._every_s
        return self.shows_c
