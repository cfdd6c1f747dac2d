"""Load cells: counts of an amplifier, taken several at a time, and what they weigh by a calibration."""

from __future__ import annotations

from collections.abc import Callable

from dryward_hardware.reader.driver import SATURATED, Missed, Value

TAKEN = 5  # counts to one value: their median leaves out two that are wrong
HALF = 1 << 23  # 24 bits, half of them below zero
STUCK = "the data line does not move"


def from_offset_binary(raw: float) -> int:
    """Return the signed count of a 24-bit code that counts from the lower end (0x800000 is zero). Raises Missed."""
    if raw != int(raw) or not 0 <= raw < 2 * HALF:
        raise Missed("not a 24-bit code")
    return believed(int(raw) - HALF)


def believed(count: int) -> int:
    """Return a signed 24-bit count, or raise Missed where it is one that an amplifier gives when it did not weigh.

    Both ends of the range: overload, or a bridge with a broken wire. 0 and -1: all bits alike, as a data line gives that
    is shorted, loose, or was read while the chip was powered down.
    """
    if count in (0, -1):
        raise Missed(STUCK)
    if not -HALF < count < HALF - 1:
        raise Missed(SATURATED)
    return count


class Cell:
    """What every amplifier does with its counts. ``g_per_count`` 0: not calibrated, so that it tells only counts."""

    def __init__(self, *, zero_count: float, g_per_count: float) -> None:
        self._zero_count = zero_count
        self._g_per_count = g_per_count

    @property
    def reads(self) -> tuple[str, ...]:
        return ("weight", "counts") if self._g_per_count else ("counts",)

    def weigh(self, count: Callable[[], int]) -> tuple[Value, ...]:
        """Take several counts and return the weight in g of their median, and the median. Raises what ``count`` raises.

        The weight is exactly (counts - zero) x g per count: with the calibration it gives the counts back.
        """
        middle = float(sorted(count() for _ in range(TAKEN))[TAKEN // 2])
        if not self._g_per_count:
            return (Value("counts", middle),)
        return Value("weight", (middle - self._zero_count) * self._g_per_count), Value("counts", middle)

    def close(self) -> None:
        """Nothing is held open."""
