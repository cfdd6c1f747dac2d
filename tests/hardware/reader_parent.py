"""A main process in miniature: reads through a reader until it is killed. ``python reader_parent.py ROOT``.

Prints the ids of the reader's processes once every device has a worker.
"""

from __future__ import annotations

import sys
import time
from threading import Event

from dryward_hardware.open import open_devices
from dryward_hardware.ports import DeviceSpec
from dryward_hardware.reader.client import reader_of


def main(root: str) -> None:
    specs = [
        DeviceSpec(name="top", kind="hwmon", options={"name": "sht4x", "root": root}),
        DeviceSpec(name="stuck", kind="w1", options={"id": "28-stuck", "root": root}),
        DeviceSpec(name="reed", kind="input", options={"gpio": 5}),
    ]
    opened = open_devices(specs, pin_factory="mock")
    pause = Event()
    heard: set[str] = set()
    while {"top/temperature", "reed/state"} - heard:
        heard |= {s.channel for source in opened.values() for s in source.poll(time.monotonic()).samples}
        pause.wait(0.05)
    reader = reader_of(opened)
    assert reader is not None
    print(*reader.pids(), flush=True)
    while True:
        for source in opened.values():
            source.poll(time.monotonic())
        pause.wait(0.2)


if __name__ == "__main__":
    main(sys.argv[1])
