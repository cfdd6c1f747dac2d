"""A hot dryer behind a faked kernel: ``python -m tests.hardware.faked_plant FOLDER``, until its standard input ends.

A process of its own, as a dryer is. Every quarter of a second it looks at the levels that the keeper gave its mock pins,
lets the simulated dryer go on in real time, and writes what the kernel's drivers would show: hwmon, w1 and IIO files under
FOLDER/sys, and in FOLDER/levels what the contacts give. What FOLDER/silent names is not written: others play with it. Some one-wire reads fail their checksum, as real ones do.
"""

from __future__ import annotations

import random
import select
import sys
import time
from pathlib import Path

from dryward_hardware.ports import Hung, Sample
from dryward_hardware.twin import Twin
from tests.hardware.kernel_tree import KernelTree, w1_slave, with_crc

PACE_S = 0.25
PINS = {17: "heater", 22: "contactor", 27: "fan", 23: "vent"}
DOOR, FAN_TURNS, CONTACTOR_CLOSED = 5, 6, 16
BAD_CRC_SHARE = 0.03
CELLS = {  # hook: what its cell counts with nothing on it, and a gram more (invented)
    "hook-1": (81_234, 104.2),
    "hook-2": (-12_501, 103.1),
    "hook-3": (40_377, -102.7),
    "hook-4": (5_020, 105.9),
}
HOOK_G = 18.0
PIECES = {"hook-1": 905.0, "hook-2": 842.0, "hook-3": 731.0, "hook-4": 618.0}
OPTIONS = {
    "dryer": {"contactor": True, "heater_w": 1800.0, "element_j_k": 60.0},
    "hooks": tuple(CELLS),
    "meat": {"start_c": 15.0},
    "sensing": {
        "temperature_s": 0.5,
        "humidity_s": 0.5,
        "weight_s": 1.0,
        "room_s": 2.0,
        "air_lag_s": 5.0,
        "temperature_step_k": 0.01,
        "weight_step_g": 0.0,
    },
}


class Plant:
    """The dryer, its kernel files and its contacts."""

    def __init__(self, folder: Path, began_s: float) -> None:
        self.tree = KernelTree(folder / "sys")
        self._levels = folder / "levels"
        self._silent = folder / "silent"
        self._pins = folder / "run" / "dryer.outputs.trace.levels"
        self._twin = Twin("plant", OPTIONS)
        self._twin.hang(
            [Hung(name=f"on-{h}", green_g=g, thickness_mm=70.0, channel=f"plant/{h}") for h, g in PIECES.items()]
        )
        self._chance = random.Random(4)
        self.turn(began_s)

    def turn(self, now_s: float) -> None:
        """Go on to ``now_s`` with the outputs as they are on the pins now, and show it."""
        on = outputs_on(self._pins)
        self._twin.want(on, now_s)
        silent = self._silent.read_text().split() if self._silent.exists() else []
        for sample in self._twin.poll(now_s).samples:
            if sample.channel.removeprefix("plant/") not in silent:
                self._show(sample)
        levels = {DOOR: 0, FAN_TURNS: int("fan" not in on), CONTACTOR_CLOSED: int("contactor" not in on)}
        fresh = self._levels.with_name("levels.new")
        fresh.write_text("".join(f"{gpio} {level}\n" for gpio, level in levels.items()))
        fresh.replace(self._levels)

    def _show(self, sample: Sample) -> None:
        """Write the kernel's file of one value."""
        what, value = sample.channel.removeprefix("plant/"), sample.value
        assert value is not None, "this plant's sensors are told to be well"
        if what == "air":
            self.tree.put("class/hwmon/hwmon1/name", "sht4x\n")
            self.tree.put("class/hwmon/hwmon1/temp1_input", f"{round(value * 1000)}\n")
        elif what == "humidity":
            self.tree.put("class/hwmon/hwmon1/humidity1_input", f"{round(value * 1000)}\n")
        elif what == "limit":
            self.tree.w1(scratchpad(value, good=self._chance.random() > BAD_CRC_SHARE))
        elif what in CELLS:
            zero, per_g = CELLS[what]
            count = round(zero + (value + HOOK_G) * per_g)
            self.tree.iio(list(CELLS).index(what), "hx711", label=what, voltage0_raw=(1 << 23) + count)


def outputs_on(pins: Path) -> frozenset[str]:
    """Return the outputs whose mock pins are high."""
    levels: dict[str, str] = {}
    if pins.exists():
        for line in pins.read_text().splitlines():
            _, gpio, level, _ = line.split(" ", 3)
            levels[gpio] = level
    return frozenset(name for gpio, name in PINS.items() if levels.get(str(gpio)) == "1")


def scratchpad(celsius: float, *, good: bool = True) -> str:
    """Return what w1_therm shows of a DS18B20 at 12 bits; not good: one bit was lost on the wire."""
    raw = round(celsius * 16.0)
    data = bytes([raw & 0xFF, raw >> 8 & 0xFF, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10])
    text = with_crc(data)
    crc, milli = text[-2:], raw * 1000 // 16
    if good:
        return w1_slave(text, crc=crc, milli=milli)
    return w1_slave(f"{text[:-2]}{int(crc, 16) ^ 0x40:02x}", crc=crc, verdict="NO", kept=text, milli=milli)


def main(folder: Path) -> None:
    plant = Plant(folder, time.monotonic())
    print("showing", flush=True)
    while not select.select([sys.stdin], [], [], PACE_S)[0]:
        plant.turn(time.monotonic())


if __name__ == "__main__":
    main(Path(sys.argv[1]))
