"""Sensors that the kernel shows under /sys/bus/iio: DHT11 and DHT22, MAX31865, MAX31855, MAX6675 and others.

By the kernel's Documentation/ABI/testing/sysfs-bus-iio: ``_input`` is in thousandths of degC or %RH; else it is
(``_raw`` + ``_offset``) x ``_scale``. Two chips need more than that:

- MAX31865: the driver gives a scale of 0.03125 degC per count without the 256 degC that the chip's straight line needs
  (drivers/iio/temperature/max31865.c). The count is taken as what it is, the probe's resistance against the board's
  reference resistor, and turned into degrees by IEC 60751.
- MAX31855 (made for type K: max31855k) calls every millivolt of a type K wire 1/0.041276 degC (its datasheet). Where the kernel also shows the cold
  junction, that is undone and the voltage turned into degrees by ITS-90.
"""

from __future__ import annotations

import errno
import os

from dryward_hardware.drivers.kernel import find_named, names_of, read_number, read_number_if_there, read_text
from dryward_hardware.drivers.ratings import PROBE_CHIPS, kernel_rating
from dryward_hardware.drivers.tables import platinum_c, type_k_c, type_k_mv
from dryward_hardware.reader.driver import ALL_ZERO, SATURATED, Missed, Value, judged, judged_rh

DEVICES = "bus/iio/devices"
MILLI = 1000.0
RTD_FULL = 32768  # counts at the reference resistance (MAX31865 datasheet)
CHIP_MV_PER_K = 0.041276  # MAX31855 datasheet, type K
BROKEN_WIRE = "the chip reports a broken or shorted wire"


def iio_value(place: str, quantity: str) -> float:
    """Return a quantity (``in_temp``) in the ABI's unit, as processed or as raw, offset and scale. Raises OSError, Missed."""
    path = os.path.join(place, quantity)
    try:
        return read_number(f"{path}_input")
    except FileNotFoundError:
        raw = read_number(f"{path}_raw")
    return (raw + read_number_if_there(f"{path}_offset", 0.0)) * read_number_if_there(f"{path}_scale", 1.0)


class Iio:
    """One sensor: its temperature, and its humidity if it has one.

    ``reference_ohm`` and ``zero_ohm`` serve a MAX31865: the resistor on its board, and the probe at 0 degC.
    """

    reads: tuple[str, ...] = ("temperature", "humidity")
    period_s = 2.2
    deadline_s = 4.0

    def __init__(self, *, name: str, root: str = "/sys", reference_ohm: float = 430.0, zero_ohm: float = 100.0) -> None:
        self._folder = os.path.join(root, DEVICES)
        self._name = name
        self._reference_ohm = reference_ohm
        self._zero_ohm = zero_ohm

    def read(self) -> tuple[Value, ...]:
        place = find_named(self._folder, self._name)
        names = names_of(place)  # two chips of one kind are told apart by labels: a label does not say what a chip is
        rating = kernel_rating(self._name, *sorted(names & PROBE_CHIPS))
        try:
            temperature = self._temperature(place, names)
        except OSError as error:
            if error.errno == errno.EINVAL:
                raise Missed(BROKEN_WIRE) from None
            raise
        if not any(os.path.exists(os.path.join(place, f"in_humidityrelative_{end}")) for end in ("input", "raw")):
            self.reads = ("temperature",)
            return (judged("temperature", temperature, rating),)
        humidity = iio_value(place, "in_humidityrelative") / MILLI
        if temperature == 0.0 and humidity == 0.0:
            raise Missed(ALL_ZERO)
        return judged("temperature", temperature, rating), judged_rh(humidity)

    def close(self) -> None:
        """Nothing is held open."""

    def _temperature(self, place: str, names: set[str]) -> float:
        if "max31865" in names:
            count = read_number(os.path.join(place, "in_temp_raw"))
            if not 0 < count < RTD_FULL - 1:
                raise Missed(SATURATED)
            return platinum_c(count / RTD_FULL * self._reference_ohm / self._zero_ohm)
        celsius = iio_value(place, "in_temp") / MILLI
        return _straightened(place, celsius) if _bends_type_k(place) else celsius


def _bends_type_k(place: str) -> bool:
    """Say whether a chip takes type K for a straight line; a MAX31856, which the kernel also shows, knows better."""
    if read_text(os.path.join(place, "name")).strip() != "maxim_thermocouple":
        return False
    try:
        return read_text(os.path.join(place, "in_temp_thermocouple_type")).strip() == "K"
    except FileNotFoundError:
        return False


def _straightened(place: str, chip_c: float) -> float:
    """Return what a type K thermocouple really says, where the chip's cold junction is known."""
    try:
        cold_c = iio_value(place, "in_temp_ambient") / MILLI
    except FileNotFoundError:  # a MAX6675 keeps it to itself
        return chip_c
    return type_k_c(CHIP_MV_PER_K * (chip_c - cold_c) + type_k_mv(cold_c))
