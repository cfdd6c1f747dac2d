"""One dryward a chamber: locks on files beside what it uses, which the kernel releases whatever happens."""

from __future__ import annotations

import contextlib
import fcntl
import os
import pwd
from pathlib import Path


class Taken(Exception):
    """Another process has this chamber."""


class ChamberLock:
    """Holds ``used`` (a record, a socket, the lines of a folder) until closed or the process ends. Raises Taken, OSError."""

    def __init__(self, used: Path) -> None:
        used.parent.mkdir(parents=True, exist_ok=True)
        _refuse_strangers(used.parent)
        path = used.with_name(f"{used.name}.lock")
        self._fd = os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o644)
        try:
            fcntl.flock(self._fd, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            other = os.pread(self._fd, 32, 0).decode(errors="replace").strip() or "unknown"
            os.close(self._fd)
            raise Taken(
                f"Another dryward (process {other}) is using this chamber (lock {path}). Stop that one first; or give this "
                "one a chamber file with a record of its own and a socket in a folder of its own."
            ) from None
        with contextlib.suppress(OSError):  # the lock holds without a name too
            # Of one length, so that a full disk has room for it once it had.
            os.pwrite(self._fd, f"{os.getpid():<10}\n".encode(), 0)

    def close(self) -> None:
        os.close(self._fd)


def _refuse_strangers(folder: Path) -> None:
    """Root must not leave files where another user's service would later find that it may not write them."""
    owner = folder.stat().st_uid
    if os.geteuid() == 0 and owner != 0:
        try:
            name = pwd.getpwuid(owner).pw_name
        except KeyError:
            name = f"user {owner}"
        raise PermissionError(
            f"{folder} belongs to {name}: run this as {name} (sudo -u {name} ...), or give the folder to root."
        )
