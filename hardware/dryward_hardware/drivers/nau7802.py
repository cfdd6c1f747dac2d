"""The load-cell amplifier NAU7802 on I2C, set up by cedargrove_nau7802 (the extra ``i2c``).

The library starts, sets and calibrates the chip. The count is read here, three bytes in one transaction: the library
reads them one by one, so that a conversion that ends in between mixes two, and it returns twice the count.
"""

from __future__ import annotations

import time
from typing import Any

from dryward_hardware.drivers.cell import HALF, Cell, believed
from dryward_hardware.reader.driver import NO_ANSWER, Missed, Value

RESULT = b"\x12"  # register ADCO_B2; the two others follow
READY_S = 1.0  # ten conversions
LOOK_S = 0.01


class Nau7802(Cell):
    """One amplifier at gain 128 and 10 conversions a second."""

    period_s = 5.0
    deadline_s = 8.0

    def __init__(
        self, *, bus: int = 1, address: int = 0x2A, zero_count: float = 0.0, g_per_count: float = 0.0, i2c: Any = None
    ) -> None:
        super().__init__(zero_count=zero_count, g_per_count=g_per_count)
        from cedargrove_nau7802 import NAU7802

        self._chip = NAU7802(i2c if i2c is not None else _bus(bus), address=address)
        if not self._chip.calibrate("INTERNAL"):
            raise OSError("the chip's own calibration failed")
        self._settled = False

    def read(self) -> tuple[Value, ...]:
        try:
            if not self._settled:
                self._count()  # the first conversion after a start is not settled
            values = self.weigh(lambda: believed(self._count()))
        except (Missed, OSError):
            self._settled = False
            raise
        self._settled = True
        return values

    def _count(self) -> int:
        give_up_s = time.monotonic() + READY_S
        while not self._chip.available():
            if time.monotonic() > give_up_s:
                raise Missed(NO_ANSWER)
            time.sleep(LOOK_S)
        answer = bytearray(3)
        with self._chip.i2c_device as device:
            device.write_then_readinto(RESULT, answer)
        count = int.from_bytes(answer, "big")
        return count - 2 * HALF if count >= HALF else count


def _bus(number: int) -> Any:
    from adafruit_extended_bus import ExtendedI2C

    return ExtendedI2C(number)
