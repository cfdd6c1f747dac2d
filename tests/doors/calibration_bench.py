"""A chamber of real kinds on a faked /sys, for the calibration tests. An invented scenario."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from click.testing import CliRunner, Result

from dryward.doors.calibration_book import Book
from dryward.doors.cli import main
from tests.hardware.kernel_tree import KernelTree

CHAMBER = """
[chamber]
name = "bench"
pressure_pa = 95000

[devices.top]
kind = "hwmon"
name = "sht4x"
root = "{root}"
[devices.cell-1]
kind = "hx711"
name = "hook-1"
root = "{root}"
{cell}
[devices.room]
kind = "dht22"
gpio = 4
[devices.sim]
kind = "twin"

[sensors.air]
role = "control-air"
device = "top"
offset = 0.5
[sensors.humidity]
role = "humidity"
device = "top"
[sensors.room]
role = "ambient"
device = "room"

[scales.hook-1]
device = "cell-1"
max_g = 5000
[scales.rack]
device = "sim"
carries = "rack"

[record]
path = "record.db"
[service]
socket = "dryward.sock"
pin_factory = "mock"
"""


@dataclass
class CalibrationBench:
    folder: Path
    tree: KernelTree

    @property
    def config(self) -> Path:
        return self.folder / "chamber.toml"

    @property
    def book(self) -> Book:
        return Book(self.folder / "record.db")

    def chamber(self, cell: str = "") -> None:
        self.config.write_text(CHAMBER.format(root=self.tree.root, cell=cell))

    def run(self, *words: str, typed: str | None = None) -> Result:
        """Run ``dryward calibrate``, typing these lines."""
        return CliRunner().invoke(main, ["calibrate", *words, "--config", str(self.config)], input=typed)

    def counts(self, count: int) -> None:
        self.tree.iio(1, "hx711", label="hook-1", voltage0_raw=8388608 + count)


def bench_in(folder: Path) -> CalibrationBench:
    bench = CalibrationBench(folder, KernelTree(folder / "sys"))
    bench.chamber()
    bench.tree.hwmon(0, "sht4x", temperature=400, humidity=73000)
    bench.counts(8000)
    return bench


Typed = Callable[..., Result]
