"""Carries a message to the messengers people already use, through Apprise, which is imported with the first message.

Each address is a target of its own with a lane of its own in the outbox: one that fails does not hold up the others, and
a message that has arrived is not sent there again. Addresses hold secrets: a target is told by its number and kind only.
"""

from __future__ import annotations

import logging
from collections.abc import Iterable
from dataclasses import dataclass
from hashlib import sha256
from typing import Any

from dryward.core.commands import Severity
from dryward.doors.secret import secret_lines
from dryward.settings import AlertSettings

INSTALL = "Apprise is not installed: /opt/dryward/bin/pip install 'dryward[alerts]' (or where dryward is installed)."


@dataclass(frozen=True, slots=True)
class Target:
    """One address. ``name`` may be shown, ``address`` never."""

    lane: str
    name: str
    address: str
    urgent_only: bool = False

    def __repr__(self) -> str:
        return f"Target({self.name})"


def targets(settings: AlertSettings) -> tuple[Target, ...]:
    """Read the addresses of both lists. Raises SecretError."""
    found: dict[str, Target] = {}
    for named, urgent_only in ((settings.to, False), (settings.urgent_to, True)):
        for address in secret_lines(named) if named else ():
            kind = address.partition("://")[0] if "://" in address else "no address"
            name = f"{len(found) + 1} {kind[:20]}"
            lane = f"alert-{sha256(address.encode()).hexdigest()[:12]}"
            found.setdefault(lane, Target(lane, name, address, urgent_only))
    return tuple(found.values())


class Sender:
    """Sends to targets; remembers nothing but the library's objects."""

    def __init__(self) -> None:
        self._made: dict[str, Any] = {}

    def send(self, target: Target, *, title: str, body: str, severity: Severity) -> str:
        """Send one message and wait until the service has taken it; return why it did not ('': it did). Never raises."""
        try:
            import apprise
        except ImportError:
            return INSTALL
        _hush()
        try:
            plugin = self._made.get(target.lane) or apprise.Apprise.instantiate(
                target.address, asset=apprise.AppriseAsset(app_id="dryward")
            )
            if not plugin:
                return "the address is not one that Apprise knows; see its list of services"
            self._made[target.lane] = plugin
            kind = {"trip": "failure", "alarm": "warning", "warning": "warning"}.get(severity, "info")
            return "" if plugin.notify(body=body, title=title, notify_type=kind) else "the service did not take it"
        except Exception as error:  # a plugin may raise anything; its text may hold the address
            return f"it failed with {type(error).__name__}"


def _hush() -> None:
    """The library logs addresses; nothing of it reaches our log."""
    logger = logging.getLogger("apprise")
    logger.propagate = False
    logger.setLevel(logging.CRITICAL + 1)


def names(found: Iterable[Target]) -> str:
    """Say which targets there are."""
    return ", ".join(t.name for t in found) or "none"
