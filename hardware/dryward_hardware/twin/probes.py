"""How the twin's sensors see: lag, transport delay, noise, resolution, readings that fail.

Chance is looked up by seed, tick and channel, so that a reading does not depend on how often the twin was polled before.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from math import exp
from random import Random

from dryward_hardware.twin.model import TICK_S

TABLE = 16_384
WORD = 0xFFFF_FFFF


class Chance:
    """Gaussian and uniform numbers by tick and channel; the same for the same seed.

    Both multiply and shift tick and salt to 32 bits that look like chance, as hash tables do.
    """

    __slots__ = ("_gauss", "_seed")

    def __init__(self, seed: int) -> None:
        random = Random(seed)
        self._seed = random.getrandbits(32)
        self._gauss = [random.gauss(0.0, 1.0) for _ in range(TABLE)]

    def gauss(self, tick: int, salt: int) -> float:
        """Return a number from the normal distribution with standard deviation 1."""
        word = (tick * 2_654_435_761 + salt) & WORD
        return self._gauss[((word ^ word >> 15) * 2_246_822_519 & WORD) >> 18]

    def uniform(self, tick: int, salt: int) -> float:
        """Return a number from 0 up to 1."""
        word = (tick * 2_654_435_761 + (salt ^ self._seed)) & WORD
        return ((word ^ word >> 15) * 2_246_822_519 & WORD) / (WORD + 1)


class Lag:
    """A first-order lag whose input runs in a straight line through each step."""

    __slots__ = ("_input", "_left", "_tau", "shown")

    def __init__(self, tau_s: float, start: float) -> None:
        self._tau = tau_s
        self._input = self.shown = start
        self._left: dict[int, float] = {}

    def follow(self, value: float, ticks: int) -> None:
        """Go on by so many ticks, over which the input has moved to ``value``."""
        tau = self._tau
        if tau <= 0.0:
            self.shown = self._input = value
            return
        left = self._left.get(ticks)
        if left is None:
            left = self._left[ticks] = exp(-ticks * TICK_S / tau)
        behind = (value - self._input) * tau / (ticks * TICK_S)
        self.shown = value - behind + (self.shown - self._input + behind) * left
        self._input = value

    def now(self) -> float:
        """Return what it shows."""
        return self.shown


class Delay:
    """A value as it was some ticks ago, straight between what was put in."""

    __slots__ = ("_line",)

    def __init__(self, start: float) -> None:
        self._line: deque[tuple[int, float]] = deque([(0, start)])

    def through(self, value: float, tick: int, dead_ticks: int) -> float:
        """Put a value in at this tick, take out the one of so many ticks ago."""
        line, then = self._line, tick - dead_ticks
        line.append((tick, value))
        while len(line) > 2 and line[1][0] <= then:
            line.popleft()
        (t0, v0), (t1, v1) = line[0], line[1]
        return v0 if then <= t0 else v0 + (v1 - v0) * (then - t0) / (t1 - t0)


@dataclass(slots=True, kw_only=True)
class Channel:
    """One value the twin sends: where it comes from, how it is shown, when it is due again."""

    name: str
    full_name: str
    value: Callable[[], float]
    every: int  # ticks
    noise: float = 0.0
    per_step: float = 0.0  # resolution steps per unit; 0 shows every digit
    failed_share: float = 0.0
    low: float = -1e9
    high: float = 1e9
    salt: int = 0
    due: int = 0
    last: float | None = None

    def shown(self, value: float, tick: int, chance: Chance) -> float:
        """Return what the sensor shows: noise added, cut to its resolution and its ends."""
        if self.noise:
            value += self.noise * chance.gauss(tick, self.salt)
        if self.per_step:
            value = round(value * self.per_step) / self.per_step
        value = self.low if value < self.low else self.high if value > self.high else value
        self.last = value
        return value
