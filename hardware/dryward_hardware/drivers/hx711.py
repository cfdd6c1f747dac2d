"""The load-cell amplifier HX711 through the kernel's driver, which clocks it without being interrupted.

The kernel gives unsigned offset binary: 8388608 for a balanced bridge (drivers/iio/adc/hx711.c). It resets the chip when
that does not answer, and the first value after a reset is not stable: it is dropped, also after any failure.
"""

from __future__ import annotations

import os

from dryward_hardware.drivers.cell import Cell, from_offset_binary
from dryward_hardware.drivers.kernel import find_named, read_number
from dryward_hardware.reader.driver import Missed, Value

DEVICES = "bus/iio/devices"


class Hx711(Cell):
    """One amplifier, channel A. At 10 values a second a read takes about half a second."""

    period_s = 5.0
    deadline_s = 8.0

    def __init__(
        self, *, name: str = "hx711", root: str = "/sys", zero_count: float = 0.0, g_per_count: float = 0.0
    ) -> None:
        super().__init__(zero_count=zero_count, g_per_count=g_per_count)
        self._folder = os.path.join(root, DEVICES)
        self._name = name
        self._settled = False

    def read(self) -> tuple[Value, ...]:
        path = os.path.join(find_named(self._folder, self._name), "in_voltage0_raw")
        try:
            if not self._settled:
                read_number(path)
            values = self.weigh(lambda: from_offset_binary(read_number(path)))
        except (Missed, OSError):
            self._settled = False
            raise
        self._settled = True
        return values
