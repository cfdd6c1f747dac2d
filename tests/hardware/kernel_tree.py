"""A folder that looks like the kernel's /sys to the drivers: the files in the form the kernel's own drivers write them."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

W1_GOOD = "72 01 4b 46 7f ff 0e 10 57"
"""Nine bytes of a DS18B20 at 23.125 degC, from the kernel's Documentation/w1/slaves/w1_therm.rst."""


def w1_slave(fresh: str, *, crc: str = "57", verdict: str = "YES", kept: str = "", milli: int = 23125) -> str:
    """Return what w1_therm writes: the bytes just read with their verdict, the last good ones with their temperature."""
    return f"{fresh} : crc={crc} {verdict}\n{kept or fresh} t={milli}\n"


def with_crc(data: bytes) -> str:
    """Return eight bytes and their CRC as hexadecimal text. Bit by bit by polynomial division, unlike the driver."""
    bits = [byte >> n & 1 for byte in data for n in range(8)] + [0] * 8
    generator = (1, 0, 0, 1, 1, 0, 0, 0, 1)  # x^8 + x^5 + x^4 + 1, highest power first
    for place in range(len(bits) - 8):
        if bits[place]:
            bits[place : place + 9] = [a ^ b for a, b in zip(bits[place : place + 9], generator, strict=True)]
    crc = sum(bit << n for n, bit in enumerate(bits[-8:]))
    return " ".join(f"{byte:02x}" for byte in (*data, crc))


@dataclass
class KernelTree:
    root: Path

    def put(self, path: str, text: str | bytes) -> Path:
        """Write a file as a whole, as the kernel shows it; a reader never sees half of it."""
        target = self.root / path
        target.parent.mkdir(parents=True, exist_ok=True)
        fresh = target.with_name(f".{target.name}.new")
        fresh.write_bytes(text if isinstance(text, bytes) else text.encode())
        fresh.replace(target)
        return target

    def w1(self, text: str | bytes, serial: str = "28-000000000001") -> Path:
        return self.put(f"bus/w1/devices/{serial}/w1_slave", text)

    def iio(self, number: int, name: str, **files: object) -> Path:
        """Write an IIO device; a file's name is given without its ``in_``, but for ``label`` and ``compatible``."""
        place = f"bus/iio/devices/iio:device{number}"
        self.put(f"{place}/name", f"{name}\n")
        for file, content in files.items():
            if file == "compatible":
                self.put(f"{place}/of_node/compatible", f"{content}\0")
            else:
                self.put(f"{place}/{file if file == 'label' else f'in_{file}'}", f"{content}\n")
        return self.root / place

    def hwmon(self, number: int, name: str, *, temperature: object = None, humidity: object = None) -> Path:
        place = f"class/hwmon/hwmon{number}"
        self.put(f"{place}/name", f"{name}\n")
        for file, content in (("temp1_input", temperature), ("humidity1_input", humidity)):
            if content is not None:
                self.put(f"{place}/{file}", f"{content}\n")
        return self.root / place
