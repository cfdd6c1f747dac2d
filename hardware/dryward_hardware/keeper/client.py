"""What the main process holds of the keeper.

The client belongs to the loop thread. In every tick: ``want`` what should be on; if not ``alive()``, raise the alarm
and ``respawn()``. Nothing here waits for the keeper except the constructor and ``close``.
"""

from __future__ import annotations

import os
import select
import socket
import subprocess
import sys
import time
from collections import deque
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from typing import Literal

from dryward_hardware.keeper import rules
from dryward_hardware.keeper.job import Job, write_job
from dryward_hardware.ports import DeviceError, LineSpec

START_S = 6.0  # a small Pi with a slow card takes about two to import gpiozero; an old keeper may hold the lock first
ANSWER_S = 1.5  # a keeper that has not answered for so long is stuck
KILL_S = 0.5
CLOSE_S = 2.0
LOSS_WINDOW_S = 600.0
MESSAGE_BYTES = 4096


class KeeperClient:
    """Outputs that are driven by a keeper process. Start it before any thread and before any sensor is imported.

    ``trace_path`` and ``state_path`` belong on a RAM file system, as the service's runtime directory is: a stalled SD
    card must not stall the keeper. ``job_path`` (left out: ``lines.json`` beside ``state_path``) is read by
    ``dryward_hardware.keeper.open_outputs``. Raises DeviceError when the lines cannot be kept or the keeper does not
    become ready.
    """

    _socket: socket.socket
    _process: subprocess.Popen[bytes]
    _spawned_s: float
    _ready: bool
    _silent_since_s: float | None  # when the first want was sent that has not been answered
    _fault: str
    _complaint: str

    def __init__(
        self,
        lines: Sequence[LineSpec],
        *,
        factory: Literal["lgpio", "mock"],
        trace_path: Path,
        state_path: Path,
        lease_s: float = 3.0,
        job_path: Path | None = None,
    ) -> None:
        if found := rules.objections(lines):
            raise DeviceError("keeper", "; ".join(found))
        self._job_path = (job_path or state_path.with_name("lines.json")).absolute()
        self._names = frozenset(line.name for line in lines)
        job = Job(
            lines=tuple(lines),
            factory=factory,
            lease_s=lease_s,
            trace_path=str(trace_path.absolute()),
            state_path=str(state_path.absolute()),
        )
        self._safe = self._on = frozenset(line.name for line in lines if line.safe_on)
        self._losses: deque[float] = deque(maxlen=1000)
        try:
            for path in (trace_path, state_path, self._job_path):
                path.parent.mkdir(parents=True, exist_ok=True)
            write_job(str(self._job_path), job)
            self._spawn()
        except OSError as error:
            raise DeviceError("keeper", f"the keeper process cannot be started: {error}") from error
        self._await_ready()

    # -- the loop's side ---------------------------------------------------------------------------------------

    def want(self, on: frozenset[str], now_s: float = 0.0) -> None:
        """Say what should be on, which renews the lease from this moment. Names without a line are ignored.

        ``now_s`` is not used: keeper and client share a clock of their own. Never waits, never raises.
        """
        stamp_ns = time.clock_gettime_ns(time.CLOCK_BOOTTIME)
        message = " ".join(["want", str(stamp_ns), *sorted(on & self._names)])
        try:
            self._socket.send(message.encode())
        except BlockingIOError:
            self._fail("the keeper does not read its pipe")
        except OSError as error:
            self._fail(f"the pipe to the keeper is broken ({error.strerror})")
        else:
            if self._silent_since_s is None:
                self._silent_since_s = time.monotonic()
        self._listen()

    def actual(self) -> frozenset[str]:
        """Return the outputs that are on, as the keeper last said; of a lost keeper, as it left them."""
        self._listen()
        return self._on

    def alive(self) -> bool:
        """Return whether the keeper is there and answers. Once false it stays false until ``respawn``."""
        self._listen()
        if self._ready:
            since_s, limit_s = self._silent_since_s, ANSWER_S
        else:
            since_s, limit_s = self._spawned_s, START_S
        if since_s is not None and time.monotonic() - since_s > limit_s:
            self._fail(f"the keeper has not answered for {limit_s:g} s")
        return not self._fault

    def respawn(self) -> None:
        """Kill what is left of the keeper and start another one, which claims every line safe before anything else.

        Counts as a loss. Returns at once; ``alive`` and ``actual`` tell when the new one answers.
        """
        self._losses.append(time.monotonic())
        self._socket.close()
        with suppress(OSError):
            self._process.kill()
        try:
            self._process.wait(KILL_S)
            self._spawn()
        except subprocess.TimeoutExpired:
            self._fail("the old keeper cannot be killed and still holds the lines")
        except OSError as error:
            self._fail(f"a new keeper cannot be started ({error.strerror})")

    def losses(self) -> int:
        """Return how many keepers were lost in the last 10 minutes."""
        oldest_s = time.monotonic() - LOSS_WINDOW_S
        while self._losses and self._losses[0] < oldest_s:
            self._losses.popleft()
        return len(self._losses)

    def trouble(self) -> str:
        """Return what is wrong with the keeper, or the last thing it complained of; empty if nothing."""
        return self._fault or self._complaint

    def close(self) -> None:
        """End the pipe, so that the keeper makes every output safe and exits; wait for that.

        Of a keeper that is lost or stuck, another program takes over that duty.
        """
        self._socket.close()
        try:
            orderly = self._process.wait(CLOSE_S) == 0
        except subprocess.TimeoutExpired:
            orderly = False
            self._process.kill()
            self._process.wait()
        if not orderly:
            opener = _command("dryward_hardware.keeper.open_outputs", str(self._job_path))
            subprocess.run(opener, env=_environment(), check=False, timeout=2 * START_S)
        self._on = self._safe

    # -- inside ------------------------------------------------------------------------------------------------

    def _spawn(self) -> None:
        self._fault = self._complaint = ""
        self._ready = False
        self._spawned_s = time.monotonic()
        self._silent_since_s = None
        self._socket, theirs = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
        self._socket.setblocking(False)
        with theirs:
            self._process = subprocess.Popen(
                _command("dryward_hardware.keeper", str(theirs.fileno()), str(self._job_path)),
                env=_environment(),
                pass_fds=[theirs.fileno()],
                stdin=subprocess.DEVNULL,
                stdout=subprocess.DEVNULL,
                start_new_session=True,  # a signal to the main process's group or terminal is not meant for it
            )

    def _await_ready(self) -> None:
        deadline_s = self._spawned_s + START_S
        while not (self._ready or self._fault) and (left_s := deadline_s - time.monotonic()) > 0:
            select.select([self._socket], [], [], left_s)
            self._listen()
        if not self._ready:
            text = self.trouble() or f"the keeper was not ready within {START_S:g} s"
            self._socket.close()
            self._process.kill()  # it has switched nothing on, and the lines may be those of another keeper
            self._process.wait()
            raise DeviceError("keeper", text.removeprefix("keeper: "))

    def _listen(self) -> None:
        while not self._fault:
            try:
                message = self._socket.recv(MESSAGE_BYTES).decode()
            except BlockingIOError:
                break
            except OSError as error:
                self._fail(f"the pipe to the keeper is broken ({error.strerror})")
            else:
                self._hear(*message.split(" ", 1))

    def _hear(self, word: str, rest: str = "") -> None:
        match word:
            case "is":
                stamp, *names = rest.split(" ")
                self._on = frozenset(names)
                if stamp != "0":
                    self._silent_since_s = None
            case "ready":
                self._ready = True
                self._on = self._safe
                self._silent_since_s = None
            case "trouble":
                self._complaint = rest
            case "failed":
                self._fail(rest)
            case _:
                self._fail("the keeper has died")  # an empty message is the end of the pipe

    def _fail(self, text: str) -> None:
        self._fault = self._fault or text


def _command(module: str, *words: str) -> list[str]:
    # -S: nothing that some package hangs into Python's start runs in the keeper; -P: nothing of a working directory.
    return [sys.executable, "-S", "-P", "-m", module, *words]


def _environment() -> dict[str, str]:
    """Let the keeper find its packages where the main process found them, and hear nothing of the service manager's."""
    kept = {name: value for name, value in os.environ.items() if name in ("PATH", "LANG", "PYTHONDONTWRITEBYTECODE")}
    return {**kept, "PYTHONPATH": os.pathsep.join(os.path.abspath(place) for place in sys.path if place)}
