"""What no single option of [mqtt] and [alerts] can tell: plain text over a network, a file that others may change."""

from __future__ import annotations

import re
import stat
from dataclasses import replace
from ipaddress import ip_address
from pathlib import Path
from typing import Any, TypeVar

from dryward.settings.mistakes import NOTHING, Findings
from dryward.settings.places import beside
from dryward.settings.tables import AlertSettings, MqttSettings

T = TypeVar("T", MqttSettings, AlertSettings)
OTHERS_MAY_WRITE = stat.S_IWGRP | stat.S_IWOTH
_CLOCK = re.compile(r"([01]\d|2[0-3]):[0-5]\d", re.ASCII)  # other scripts' digits are none to fromisoformat
_FILES = ("ca_file", "certificate_file", "key_file", "password_file", "to", "urgent_to", "heartbeat_file")


def check_messages(chamber: str, mqtt: MqttSettings, alerts: AlertSettings, path: Path, found: Findings) -> None:
    """Note every mistake in what reaches beyond this machine; ``path`` is the chamber file itself."""
    if not found.spoils("mqtt"):
        _broker(chamber, mqtt, found)
    if not found.spoils("alerts"):
        _hours(alerts, found)
        if alerts.urgent_to and not alerts.to:
            found.add(
                "alerts.to", NOTHING, limit="needed with urgent_to", cure="Name the file of those who are called first."
            )
    if mqtt.host or alerts.to or alerts.heartbeat_file:
        _only_the_owner_writes(path, found)


def is_loopback(host: str) -> bool:
    """Say whether a host is this very machine, so that nothing said to it can be overheard on a network."""
    if host.lower() == "localhost":
        return True
    try:
        return ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return False


def files_beside(path: Path, table: T) -> T:
    """Return the table with its files in full: they count from the chamber file's folder."""
    named: dict[str, str] = {key: value for key in _FILES if (value := getattr(table, key, ""))}
    full: dict[str, Any] = {key: str(beside(path, value)) for key, value in named.items()}
    return replace(table, **full)


def _broker(chamber: str, mqtt: MqttSettings, found: Findings) -> None:
    if "/" in mqtt.host or any(c.isspace() for c in mqtt.host):
        bare = mqtt.host.strip().rpartition("//")[2].partition("/")[0]
        host, _, port = bare.partition(":") if bare.count(":") == 1 else (bare, "", "")
        cure = f'Write host = "{host}"' + (f" and port = {port}" if port.isdigit() else "") + "."
        limit = "a name or an address alone, such as broker.lan or 192.168.1.20"
        found.add("mqtt.host", mqtt.host, limit=limit, cure=cure)
        return
    if mqtt.host and not mqtt.tls and not mqtt.allow_plain_text and not is_loopback(mqtt.host):
        cure = "Set tls = true; or, if nobody else is on that network, allow_plain_text = true."
        found.add("mqtt.tls", False, limit=f"true for {mqtt.host}, which is another machine", cure=cure)
    for key, other in (("certificate_file", "key_file"), ("key_file", "certificate_file"), ("password_file", "user")):
        if getattr(mqtt, key) and not getattr(mqtt, other):
            found.add(f"mqtt.{other}", NOTHING, limit=f"needed with {key}", cure=f"Add {other}, or take {key} out.")
    if mqtt.certificate_file and not mqtt.tls:
        cure = "Set tls = true, or take certificate_file and key_file out."
        found.add("mqtt.certificate_file", mqtt.certificate_file, limit="only with tls = true", cure=cure)
    if mqtt.host and chamber.endswith("-"):
        limit = "no hyphen at its end: the name is part of a topic of Homie 5"
        found.add("chamber.name", chamber, limit=limit, cure=f"Call it '{chamber.strip('-') or 'chamber'}'.")


def _hours(alerts: AlertSettings, found: Findings) -> None:
    for key, other in (("quiet_from", "quiet_to"), ("quiet_to", "quiet_from"), ("summary_at", "")):
        value = getattr(alerts, key)
        if value and not _CLOCK.fullmatch(value):
            written = f"0{value}" if _CLOCK.fullmatch(f"0{value}") else ""
            cure = (
                f'Write it as "{written}".'
                if written
                else 'Write hours and minutes with two digits each, as in "07:30".'
            )
            found.add(f"alerts.{key}", value, limit="a time of day from 00:00 to 23:59", cure=cure)
        if other and value and not getattr(alerts, other):
            found.add(f"alerts.{other}", NOTHING, limit=f"needed with {key}", cure=f'Add a line {other} = "06:30".')


def _only_the_owner_writes(path: Path, found: Findings) -> None:
    """Whoever can change the file can give himself rights from afar."""
    try:
        mode = path.stat().st_mode
    except OSError:
        return
    if mode & OTHERS_MAY_WRITE:
        limit = f"a file that only its owner can change (mode {stat.S_IMODE(mode):04o}), as it gives rights beyond this machine"
        found.add("", None, limit=limit, cure=f"Run: chmod go-w {path}")
