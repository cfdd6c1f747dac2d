"""Sensors that the kernel shows under /sys/class/hwmon: SHT3x, SHT4x and others, in thousandths of degC and %RH.

Units by the kernel's Documentation/hwmon/sysfs-interface.rst. SHT4x measures at most every 2 s and repeats its value in
between (drivers/hwmon/sht4x.c), so that a read more than 2 s after the last one is a new measurement.
"""

from __future__ import annotations

import os

from dryward_hardware.drivers.kernel import find_named, read_number
from dryward_hardware.drivers.ratings import kernel_rating
from dryward_hardware.reader.driver import Value, judged, judged_rh

MILLI = 1000.0


class Hwmon:
    """One sensor: its temperature, and its humidity if it has one."""

    reads: tuple[str, ...] = ("temperature", "humidity")
    period_s = 2.2
    deadline_s = 4.0

    def __init__(self, *, name: str, root: str = "/sys") -> None:
        self._folder = os.path.join(root, "class/hwmon")
        self._name = name
        self._rating = kernel_rating(name)

    def read(self) -> tuple[Value, ...]:
        place = find_named(self._folder, self._name)
        temperature = read_number(os.path.join(place, "temp1_input")) / MILLI
        humidity_file = os.path.join(place, "humidity1_input")
        if not os.path.exists(humidity_file):
            self.reads = ("temperature",)
            return (judged("temperature", temperature, self._rating),)
        return judged("temperature", temperature, self._rating), judged_rh(read_number(humidity_file) / MILLI)

    def close(self) -> None:
        """Nothing is held open."""
