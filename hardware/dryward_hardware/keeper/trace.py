"""A bounded text file of short lines, for the trace of output transitions and for the levels of mock pins."""

from __future__ import annotations

import os
import time

KEEP_BYTES = 1_000_000  # about 25,000 transitions: some ten days at 90 heater cycles an hour


class Trace:
    """Appends ``monotonic_ns TEXT`` lines. When the file is full it becomes ``PATH.1`` and a new one begins.

    Each line is one write to a file opened with O_APPEND, so that readers and a second writer never see half a line.
    Opening and writing raise OSError.
    """

    def __init__(self, path: str, *, keep_bytes: int = KEEP_BYTES) -> None:
        self._path = path
        self._keep_bytes = keep_bytes
        self._fd = self._open()

    def _open(self) -> int:
        return os.open(self._path, os.O_WRONLY | os.O_APPEND | os.O_CREAT | os.O_CLOEXEC, 0o644)

    def write(self, text: str) -> None:
        """Append one line, stamped with CLOCK_MONOTONIC as it is now."""
        os.write(self._fd, f"{time.monotonic_ns()} {text}\n".encode())
        if os.fstat(self._fd).st_size >= self._keep_bytes:
            os.replace(self._path, f"{self._path}.1")
            fresh = self._open()
            os.close(self._fd)
            self._fd = fresh

    def close(self) -> None:
        os.close(self._fd)
