"""Words to the service manager: ready, still well, what is going on, stopping. After sd_notify(3).

The protocol is one datagram of ``NAME=value`` lines to the socket named in NOTIFY_SOCKET. Nothing here raises or
waits: a service manager that does not listen must not stop a dryer. No clock is used, so none can step.
"""

from __future__ import annotations

import os
import socket
from collections.abc import Mapping


class Notifier:
    """Speaks to the service manager that started this process, if one did; otherwise every call does nothing.

    Each call returns whether the datagram was handed over.
    """

    def __init__(self, environ: Mapping[str, str] = os.environ) -> None:
        name = environ.get("NOTIFY_SOCKET", "")
        # An abstract socket is written with "@" and addressed with a null byte. Other schemes are not unix sockets.
        self._address = "\0" + name[1:] if name.startswith("@") else name
        self._listened_to = name.startswith(("@", "/"))

    def ready(self, status: str = "") -> bool:
        """Say that start-up is complete; units that wait for this one go on."""
        return self._say("READY=1", _status(status))

    def status(self, text: str) -> bool:
        """Say in one line what is going on; ``systemctl status`` shows it."""
        return self._say(_status(text))

    def well(self) -> bool:
        """Feed the watchdog. Only after a whole cycle has been read, decided and acted on."""
        return self._say("WATCHDOG=1")

    def stopping(self, status: str = "") -> bool:
        """Say that the end has begun."""
        return self._say("STOPPING=1", _status(status))

    def _say(self, *lines: str) -> bool:
        if not self._listened_to:
            return False
        message = "\n".join(filter(None, lines)).encode(errors="replace")
        try:
            with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as sender:
                sender.setblocking(False)
                return sender.sendto(message, self._address) == len(message)
        except (OSError, ValueError):
            return False


def watchdog_s(environ: Mapping[str, str] = os.environ) -> float | None:
    """Return the time in which the service manager expects to hear ``well``, or None when it does not watch us.

    Feed it at half that time at the latest, as sd_watchdog_enabled(3) advises.
    """
    try:
        watched = int(environ.get("WATCHDOG_PID", os.getpid())) == os.getpid()
        period_us = int(environ.get("WATCHDOG_USEC", 0))
    except ValueError:
        return None
    return period_us / 1e6 if watched and period_us > 0 else None


def _status(text: str) -> str:
    # A line break would begin another assignment.
    return f"STATUS={' '.join(text.split())}" if text else ""
