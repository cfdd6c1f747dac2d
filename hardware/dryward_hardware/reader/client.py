"""What the main process holds of the reader.

The client belongs to the loop thread. Nothing here waits, except ``close``. A reader that dies or falls silent is
replaced by the next poll, and only the age of the readings tells of it: silence is staleness.
"""

from __future__ import annotations

import math
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Mapping, Sequence
from contextlib import suppress

from dryward_hardware.ports import Batch, DeviceSpec, Source
from dryward_hardware.reader.intake import Intake
from dryward_hardware.reader.messages import MESSAGE_BYTES, channel_pair, pack

START_S = 15.0  # a small Pi with a slow card takes about two
SILENT_S = 5.0  # it speaks every second
CLOSE_S = 2.0
TAKEN = 1000  # messages taken at one poll


class ReaderClient:
    """Sensors that are read in a process of their own. ``specs`` must have been checked; see ``open.open_devices``.

    ``mock_levels`` names a file of ``GPIO LEVEL`` lines that the mock pins show. The reader is not waited for: readings
    arrive when they do. It is started again at most every ``respawn_s``.
    """

    def __init__(
        self, specs: Sequence[DeviceSpec], *, pin_factory: str = "lgpio", mock_levels: str = "", respawn_s: float = 2.0
    ) -> None:
        self.intake = Intake(spec.name for spec in specs)
        devices = [[spec.name, spec.kind, dict(spec.options)] for spec in specs]
        self._job = pack("job", {"devices": devices, "pin_factory": pin_factory, "mock_levels": mock_levels})
        self._respawn_s = respawn_s
        self.respawns = 0  # of the reader itself
        self._buried: list[subprocess.Popen[bytes]] = []
        self._process: subprocess.Popen[bytes] | None = None
        self._pipe: socket.socket | None = None
        self._spawned_s = self._heard_s = -math.inf
        self._closed = False
        self._spawn(time.monotonic())

    def sources(self) -> dict[str, Source]:
        """Return each device as a source of its own; together they poll as one."""
        return {name: _Device(self, name) for name in self.intake.devices}

    def poll(self, now_s: float) -> Batch:
        """Return everything that has arrived. ``now_s`` is ``time.monotonic()``. Never waits, never raises."""
        self.look()
        samples = [sample for name in self.intake.devices for sample in self.intake.take(name)]
        return Batch(samples=tuple(samples), notes=self.intake.take_notes())

    def look(self) -> None:
        """Take what has arrived, and replace a reader that is dead or silent."""
        now_s = time.monotonic()
        for _ in range(TAKEN):
            if self._pipe is None:
                break
            try:
                message = self._pipe.recv(MESSAGE_BYTES)
            except BlockingIOError:
                break
            except OSError as error:
                self._lose(f"its pipe is broken ({error.strerror})")
                break
            if not message:
                self._lose("it has died")
                break
            self._heard_s = now_s
            self.intake.hear(message, now_s)
        if self._pipe is not None and now_s > max(self._heard_s + SILENT_S, self._spawned_s + START_S):
            self._lose(f"it has said nothing for {SILENT_S:g} s")
        if self._pipe is None and not self._closed and now_s >= self._spawned_s + self._respawn_s:
            self.respawns += 1
            self._spawn(now_s)
        self._buried = [process for process in self._buried if process.poll() is None]

    def status(self) -> dict[str, object]:
        """Return all counters as plain data."""
        return {"respawns": self.respawns, **self.intake.status()}

    def pids(self) -> frozenset[int]:
        """Return the reader's and all its workers' process ids."""
        return frozenset() if self._process is None else _session(self._process.pid)

    def close(self) -> None:
        """End the reader and everything it started."""
        self._closed = True
        if self._pipe is not None:
            self._pipe.close()
            self._pipe = None
        if self._process is not None:
            with suppress(subprocess.TimeoutExpired):
                self._process.wait(CLOSE_S)
            self._bury()
        for process in self._buried:
            with suppress(subprocess.TimeoutExpired):
                process.wait(CLOSE_S)
        self._buried = []

    # -- inside ------------------------------------------------------------------------------------------------

    def _spawn(self, now_s: float) -> None:
        self._spawned_s = now_s
        try:
            self._pipe, theirs = channel_pair()
            with theirs:
                self._pipe.send(self._job)
                self._pipe.setblocking(False)
                self._process = subprocess.Popen(
                    [sys.executable, "-S", "-P", "-m", "dryward_hardware.reader", str(theirs.fileno())],
                    env=_environment(),
                    pass_fds=[theirs.fileno()],
                    stdin=subprocess.DEVNULL,
                    stdout=subprocess.DEVNULL,
                    start_new_session=True,  # its processes are known by that; signals to the daemon's group are not its
                )
        except OSError as error:
            self._lose(f"it cannot be started ({error.strerror})")

    def _lose(self, why: str) -> None:
        if self._pipe is not None:
            self._pipe.close()
            self._pipe = None
        self._bury()
        self.intake.note(f"The reader of the sensors is lost: {why}. A new one is started.")

    def _bury(self) -> None:
        """Kill the reader and whatever it has left."""
        if self._process is None:
            return
        for pid in _session(self._process.pid):
            with suppress(OSError):
                os.kill(pid, signal.SIGKILL)
        self._buried.append(self._process)
        self._process = None


class _Device:
    """One device of the reader as a source."""

    def __init__(self, client: ReaderClient, name: str) -> None:
        self._client = client
        self._name = name

    def poll(self, now_s: float) -> Batch:
        self._client.look()
        intake = self._client.intake
        return Batch(samples=intake.take(self._name), notes=intake.take_notes())

    def close(self) -> None:
        self._client.close()


def reader_of(sources: Mapping[str, Source]) -> ReaderClient | None:
    """Return the reader behind these sources, for its counters; None where there is none."""
    return next((source._client for source in sources.values() if isinstance(source, _Device)), None)


def _session(leader: int) -> frozenset[int]:
    """Return the processes of a session."""
    found = set()
    for entry in os.listdir("/proc"):
        if entry.isdigit():
            with suppress(OSError, ValueError):
                with open(f"/proc/{entry}/stat", "rb") as file:
                    state, _, _, session = file.read().rpartition(b")")[2].split()[:4]
                if int(session) == leader and state != b"Z":
                    found.add(int(entry))
    return frozenset(found)


def _environment() -> dict[str, str]:
    """Let the reader find its packages where this process found them, and hear nothing of the service manager's."""
    kept = {
        name: value
        for name, value in os.environ.items()
        if name in ("PATH", "LANG", "HOME", "PYTHONDONTWRITEBYTECODE") or name.startswith("BLINKA_")
    }
    return {**kept, "PYTHONPATH": os.pathsep.join(os.path.abspath(place) for place in sys.path if place)}
