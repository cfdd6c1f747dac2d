"""One dryward a chamber: a lock on the record's folder that the kernel releases whatever happens."""

from __future__ import annotations

import fcntl
import os
from pathlib import Path


class Taken(Exception):
    """Another process has this chamber."""


class ChamberLock:
    """Holds the chamber until closed or the process ends. Raises Taken, OSError."""

    def __init__(self, record: Path) -> None:
        record.parent.mkdir(parents=True, exist_ok=True)
        path = record.with_suffix(".lock")
        self._fd = os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o644)
        try:
            fcntl.flock(self._fd, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            other = os.pread(self._fd, 32, 0).decode(errors="replace").strip() or "unknown"
            os.close(self._fd)
            raise Taken(
                f"Another dryward (process {other}) is using this chamber (lock {path}). "
                "Stop that one first, or give this one its own chamber file with its own record."
            ) from None
        os.ftruncate(self._fd, 0)
        os.pwrite(self._fd, str(os.getpid()).encode(), 0)

    def close(self) -> None:
        os.close(self._fd)
