"""A worker: a forked child of the reader that reads its devices for as long as they answer."""

from __future__ import annotations

import ctypes
import os
import signal
import socket
import time
from collections.abc import Sequence
from contextlib import suppress

from dryward_hardware.open import open_driver
from dryward_hardware.ports import DeviceSpec
from dryward_hardware.reader.driver import Driver, read_once
from dryward_hardware.reader.messages import pack

TYPE_CHECKING = False
if TYPE_CHECKING:
    from typing import NoReturn

PR_SET_PDEATHSIG = 1
prctl = ctypes.CDLL(None).prctl
FAILURES = 10  # so many in a row and the device is opened anew


class Station:
    """One device of this worker, and when it is due."""

    def __init__(self, name: str, driver: Driver) -> None:
        self.name = name
        self.driver = driver
        self.due_s = time.monotonic()
        self.failures = 0

    def read(self) -> tuple[int, tuple[object, ...]]:
        """Wait until the device is due and read it; return when that began, in ns, and what it gave."""
        time.sleep(max(0.0, self.due_s - time.monotonic()))
        began_ns = time.monotonic_ns()
        self.due_s = began_ns / 1e9 + self.driver.period_s
        values = read_once(self.driver)
        if values:
            failed = all(value is None for _, value, _ in values)
            self.failures = self.failures + 1 if failed else 0
        return began_ns, values


def work(
    pipe: socket.socket, specs: Sequence[DeviceSpec], *, pin_factory: str, mock_levels: str, parent: int
) -> NoReturn:
    """Read the devices until the pipe breaks, the reader dies or one of them fails for long."""
    os.setpgid(0, 0)  # whatever program a driver starts is ended with it
    prctl(PR_SET_PDEATHSIG, signal.SIGKILL)  # also in the middle of a read that never returns
    if os.getppid() != parent:
        os._exit(0)
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    stations: list[Station] = []
    try:
        for spec in specs:
            stations.append(Station(spec.name, open_driver(spec, pin_factory=pin_factory, mock_levels=mock_levels)))
        pipe.send(pack("open", max(s.driver.period_s + s.driver.deadline_s for s in stations)))
        while max(s.failures for s in stations) < FAILURES:
            station = min(stations, key=lambda s: s.due_s)
            began_ns, values = station.read()
            if values:
                pipe.send(pack("read", station.name, began_ns, values))
        pipe.send(pack("failed", f"{FAILURES} reads in a row failed"))
    except BaseException as error:  # also SystemExit, which a library's signal handler raises here
        with suppress(OSError):
            pipe.send(pack("failed", f"{type(error).__name__}: {error}"))
    for station in stations:
        with suppress(Exception):
            station.driver.close()
    os._exit(1)  # not back into the reader whose copy this is
