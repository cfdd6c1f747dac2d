"""The keeper's memory of when each output last changed, so that a restart does not forget a compressor's rest.

It needs to survive a process, not the machine: after a boot nothing in it holds (a Pi has no battery clock), and an
output that is not remembered waits its whole minimum time. So it lies on a RAM file system and is never synced.
"""

from __future__ import annotations

import os
from collections.abc import Mapping

from dryward_hardware.keeper.rules import Standing


def this_boot() -> str:
    """Return the kernel's id of this boot."""
    with open("/proc/sys/kernel/random/boot_id", encoding="ascii") as file:
        return file.read().strip()


def remember(path: str, boot: str, standings: Mapping[str, Standing]) -> None:
    """Write the standings, whole or not at all. If that fails, forget: unknown is the careful answer. Raises OSError."""
    lines = [f"boot {boot}"] + [f"{name} {int(s.on)} {s.since_s!r}" for name, s in standings.items()]
    fresh = f"{path}.new"
    try:
        with open(fresh, "w", encoding="utf-8") as file:
            file.write("\n".join([*lines, "end\n"]))
        os.replace(fresh, path)
    except OSError:
        for stale in (path, fresh):
            try:
                os.unlink(stale)
            except OSError:
                continue
        raise


def recall(path: str, boot: str) -> dict[str, Standing]:
    """Read the standings of this boot; empty when the file is missing, of another boot, or not whole."""
    try:
        with open(path, encoding="utf-8") as file:
            head, *rows, end = file.read().splitlines()
        if head != f"boot {boot}" or end != "end":
            return {}
        fields = [row.split(" ") for row in rows]
        return {name: Standing({"0": False, "1": True}[on], float(since)) for name, on, since in fields}
    except (OSError, ValueError, KeyError):
        return {}
