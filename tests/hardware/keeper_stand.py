"""A directory in which a keeper works, as the tests see it: its trace, its pin levels, its process."""

from __future__ import annotations

import os
import select
import signal
import subprocess
import sys
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from threading import Event
from time import monotonic
from typing import NamedTuple

from dryward_hardware.keeper.client import KeeperClient
from dryward_hardware.ports import LineSpec

ROOT = Path(__file__).parents[2]


class Entry(NamedTuple):
    """One transition as the trace tells it."""

    at_s: float
    output: str
    on: bool
    why: str


def until(condition: Callable[[], bool], *, within_s: float, what: str) -> None:
    """Wait until the condition holds; fail when it does not in time."""
    deadline_s = monotonic() + within_s
    pause = Event()
    while not condition():
        assert monotonic() < deadline_s, f"not within {within_s} s: {what}"
        pause.wait(0.01)


def wait_gone(pidfd: int, *, within_s: float) -> None:
    """Wait for the end of a process that need not be a child."""
    ended, _, _ = select.select([pidfd], [], [], within_s)
    os.close(pidfd)
    assert ended, f"a process was still there after {within_s} s"


@dataclass
class Stand:
    directory: Path
    clients: list[KeeperClient] = field(default_factory=list)
    parents: list[subprocess.Popen[str]] = field(default_factory=list)
    pids: set[int] = field(default_factory=set)

    @property
    def trace_path(self) -> Path:
        return self.directory / "trace"

    @property
    def state_path(self) -> Path:
        return self.directory / "state"

    def client(self, *lines: LineSpec, lease_s: float = 3.0) -> KeeperClient:
        """Start a keeper on mock pins."""
        client = KeeperClient(
            lines, factory="mock", trace_path=self.trace_path, state_path=self.state_path, lease_s=lease_s
        )
        self.clients.append(client)
        self.pids.add(self.keeper_pid())
        return client

    def parent(self, habit: str) -> tuple[subprocess.Popen[str], int]:
        """Start a main process that heats; return it, and its child if it has one."""
        path = os.pathsep.join([str(ROOT / "hardware"), *filter(None, [os.environ.get("PYTHONPATH")])])
        process = subprocess.Popen(
            [sys.executable, str(Path(__file__).with_name("keeper_parent.py")), str(self.directory), habit],
            env={**os.environ, "PYTHONPATH": path},
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
        )
        self.parents.append(process)
        assert process.stdout is not None
        word, child = process.stdout.readline().split()
        assert word == "heating"
        self.pids |= {self.keeper_pid(), int(child)} - {0}
        return process, int(child)

    def keeper_pid(self) -> int:
        return int(Path(f"{self.state_path}.lock").read_text())

    def trace(self) -> list[Entry]:
        rows = [line.split(" ") for line in self.trace_path.read_text().splitlines()]
        return [Entry(int(ns) / 1e9, output, on == "1", why) for ns, output, on, why in rows]

    def last(self, output: str) -> Entry:
        return [entry for entry in self.trace() if entry.output == output][-1]

    def levels(self, gpio: int) -> list[tuple[int, str]]:
        """Return each level that a mock pin was given, and whether it was so claimed or written."""
        rows = [line.split(" ") for line in Path(f"{self.trace_path}.levels").read_text().splitlines()]
        return [(int(level), how) for _, number, level, how in rows if int(number) == gpio]

    def clear(self) -> None:
        """Leave no process behind."""
        for client in self.clients:
            client.close()
        for process in self.parents:
            process.kill()
            process.wait()
            assert process.stdout is not None
            process.stdout.close()
        for pid in self.pids:
            with suppress(FileNotFoundError, ProcessLookupError):
                if b"keeper" in Path(f"/proc/{pid}/cmdline").read_bytes():
                    os.kill(pid, signal.SIGKILL)
