"""One process at a time holds the lines: a lock on a file that names its holder, gone with the holder however it dies."""

from __future__ import annotations

import fcntl
import os
import signal
import time
from contextlib import suppress

from dryward_hardware.lines import DeviceError


def take_lock(path: str, *, patience_s: float) -> int:
    """Hold the lock that one process at a time may have, and write this process's id into it; return its fd.

    Raises DeviceError when another process still holds it after ``patience_s``.
    """
    fd = os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o644)
    deadline = time.monotonic() + patience_s
    while True:
        try:
            fcntl.flock(fd, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            if time.monotonic() >= deadline:
                holder = os.pread(fd, 32, 0).decode().strip()
                os.close(fd)
                raise DeviceError(
                    "keeper", f"process {holder} already keeps these outputs ({path}): stop it, then start again"
                ) from None
            time.sleep(0.02)
        else:
            with suppress(OSError):  # of one length, so that a full file system has room for it once it had
                os.pwrite(fd, f"{os.getpid():<10}\n".encode(), 0)
            return fd


def kill_holder(path: str) -> None:
    """Kill the keeper that holds the lock, if it is one. Raises OSError or ValueError when it cannot be found."""
    with open(path, encoding="ascii") as file:
        pid = int(file.read())
    with open(f"/proc/{pid}/cmdline", "rb") as file:
        if b"dryward_hardware.keeper" in file.read():
            os.kill(pid, signal.SIGKILL)
