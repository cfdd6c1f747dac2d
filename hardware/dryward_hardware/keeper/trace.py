"""A bounded text file of short lines, for the trace of output transitions and for the levels of mock pins."""

from __future__ import annotations

import os
import time
from contextlib import suppress

KEEP_BYTES = 1_000_000  # about 25,000 transitions: some ten days at 90 heater cycles an hour


class Trace:
    """Appends ``monotonic_ns TEXT`` lines. When the file is full it becomes ``PATH.1`` and a new one begins.

    Each line is one write to a file opened with O_APPEND, so that readers and a second writer never see half a line.
    """

    def __init__(self, path: str, *, keep_bytes: int = KEEP_BYTES) -> None:
        self._path = path
        self._keep_bytes = keep_bytes

    def write(self, text: str) -> None:
        """Append one line, stamped with CLOCK_MONOTONIC as it is now. Raises OSError."""
        line = f"{time.monotonic_ns()} {text}\n".encode()
        fd = os.open(self._path, os.O_WRONLY | os.O_APPEND | os.O_CREAT | os.O_CLOEXEC, 0o644)
        try:
            os.write(fd, line)
            if os.fstat(fd).st_size >= self._keep_bytes:
                os.replace(self._path, f"{self._path}.1")
        finally:
            os.close(fd)

    def offer(self, text: str) -> None:
        """Append one line, or lose it if the file system has no room for it."""
        with suppress(OSError):
            self.write(text)
