"""Thermometers on the one-wire bus, as the kernel's w1_therm shows them: DS18B20, DS18S20, DS1822, DS28EA00.

The file w1_slave holds two lines: the nine bytes just read, their CRC and YES or NO; then the nine bytes of the last good
read and ``t=`` in thousandths of a degree. After a failed CRC the second line is old. Newer kernels leave the file empty
when the sensor does not answer (drivers/w1/slaves/w1_therm.c).
"""

from __future__ import annotations

import os
from contextlib import suppress

from dryward_hardware.drivers.kernel import read_text
from dryward_hardware.drivers.ratings import DS18B20_C
from dryward_hardware.reader.driver import (
    ABSENT,
    ALL_ZERO,
    BAD_CHECKSUM,
    NO_ANSWER,
    NOT_A_NUMBER,
    POWER_ON,
    Missed,
    Value,
    within,
)

POWER_ON_C = 85.0
DEVICES = "bus/w1/devices"


def w1_celsius(text: str) -> float:
    """Return the temperature that a w1_slave file tells, degC. Raises Missed."""
    lines = text.splitlines()
    if not lines:
        raise Missed(NO_ANSWER)
    if len(lines) < 2:
        raise Missed(NOT_A_NUMBER)
    fresh, _, verdict = lines[0].partition(":")
    kept, equals, milli = lines[1].partition("t=")
    if not verdict.rstrip().endswith("YES"):
        raise Missed(BAD_CHECKSUM)
    try:
        scratchpad = bytes.fromhex(fresh)
        kept_bytes = bytes.fromhex(kept)
    except ValueError:
        raise Missed(NOT_A_NUMBER) from None
    if len(scratchpad) != 9 or kept_bytes != scratchpad or crc8(scratchpad) != 0:
        raise Missed(BAD_CHECKSUM)
    if not any(scratchpad):
        raise Missed(ALL_ZERO)  # a line held low: nine zeros carry a valid CRC
    return _degrees(milli if equals else "")


def _degrees(milli: str) -> float:
    milli = milli.strip()
    if not milli.removeprefix("-").isdecimal() or not milli.isascii():
        raise Missed(NOT_A_NUMBER)
    celsius = int(milli[:12]) / 1000.0
    if celsius == POWER_ON_C:
        raise Missed(POWER_ON)
    return within(celsius, DS18B20_C)


def crc8(data: bytes) -> int:
    """CRC of the one-wire bus (x^8 + x^5 + x^4 + 1, lowest bit first); 0 over data that ends in its own CRC."""
    crc = 0
    for byte in data:
        for _ in range(8):
            odd = (crc ^ byte) & 1
            crc = (crc >> 1) ^ (0x8C if odd else 0)
            byte >>= 1
    return crc


class W1:
    """One thermometer, by the folder that bears its serial number. A conversion takes up to 0.75 s, retries more."""

    reads = ("temperature",)
    period_s = 2.0
    deadline_s = 10.0

    def __init__(self, *, id: str, root: str = "/sys") -> None:
        self._path = os.path.join(root, DEVICES, id, "w1_slave")

    def read(self) -> tuple[Value, ...]:
        with suppress(FileNotFoundError, NotADirectoryError):
            return (Value("temperature", w1_celsius(read_text(self._path))),)
        raise Missed(ABSENT)

    def close(self) -> None:
        """Nothing is held open."""
