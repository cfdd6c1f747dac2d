"""Every chamber at one broker, as ``status --broker URL`` lists them: put together from retained topics alone."""

from __future__ import annotations

import os
import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from time import monotonic
from typing import Any
from urllib.parse import parse_qs, unquote, urlsplit

from paho.mqtt.client import Client, ConnectFlags, DisconnectFlags, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

from dryward.doors.mqtt.describe import BASE
from dryward.doors.mqtt.payload import rebuild
from dryward.settings.messages import is_loopback

PASSWORD = "DRYWARD_BROKER_PASSWORD"
WAIT_S = 5.0
QUIET_S = 0.5  # so long nothing came: what is retained has been told
FORM = "mqtts://USER@HOST:PORT?ca=FILE, or mqtt:// for a broker on this machine"


class NoBroker(Exception):
    """The broker cannot be asked; the text says why and what to do."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where a broker is and how one logs in there."""

    host: str
    port: int
    tls: bool
    user: str = ""
    ca_file: str = ""


@dataclass(slots=True)
class Fleet:
    """What is known of the chambers: topics below each by its name. ``why``: nothing more is heard, and why ('': it is)."""

    topics: dict[str, dict[str, str]] = field(default_factory=dict)
    why: str = ""
    heard_s: float = 0.0
    changed: threading.Event = field(default_factory=threading.Event)

    def chambers(self) -> list[tuple[str, str, dict[str, Any]]]:
        """Return each chamber's name, whether it is there (``$state``), and its snapshot."""
        found = []
        for name, topics in sorted(self.topics.copy().items()):
            if state := topics.get("$state"):
                found.append((name, state, rebuild(dict(topics)) | {"chamber": name}))
        return found


def place(url: str) -> Place:
    """Read the address of a broker. Raises NoBroker."""
    try:
        parts = urlsplit(url)
        host, port = parts.hostname or "", parts.port
    except ValueError:
        raise NoBroker(f"{url!r} is no address of a broker: write {FORM}.") from None
    if parts.scheme not in ("mqtt", "mqtts") or not host or parts.path.strip("/"):
        raise NoBroker(f"{url!r} is no address of a broker: write {FORM}.")
    if parts.password is not None:
        raise NoBroker(
            f"A password in an address can be seen by every user of this machine: put it into the variable {PASSWORD}."
        )
    tls = parts.scheme == "mqtts"
    if not tls and not is_loopback(host):
        raise NoBroker(f"{host} is another machine: without TLS everybody on the way can read along. Write mqtts://.")
    authority = parse_qs(parts.query).get("ca", [""])[0]
    return Place(host, port or (8883 if tls else 1883), tls, unquote(parts.username or ""), authority)


@contextmanager
def listening(where: Place, environ: Mapping[str, str] = os.environ) -> Iterator[Fleet]:
    """Hear every chamber at a broker; what is retained is there when this returns. Raises NoBroker."""
    fleet = Fleet()
    client = Client(CallbackAPIVersion.VERSION2, protocol=MQTTProtocolVersion.MQTTv5)
    client.suppress_exceptions = True
    in_or_out = threading.Event()

    def on_connect(_: Client, __: Any, ___: ConnectFlags, reason: ReasonCode, ____: Properties | None) -> None:
        fleet.why = (
            f"{where.host} refused the log-in: {reason}. User and password ({PASSWORD})?" if reason.is_failure else ""
        )
        if reason.is_failure:
            in_or_out.set()
        else:
            client.subscribe([(f"{BASE}/+/$state", 0), (f"{BASE}/+/+/+", 0)])

    def on_disconnect(_: Client, __: Any, ___: DisconnectFlags, ____: ReasonCode, _____: Properties | None) -> None:
        fleet.why = (
            fleet.why or f"The connection to {where.host} is lost; it is tried again. Go and look at the chambers."
        )

    def on_subscribe(_: Client, __: Any, ___: int, reasons: list[ReasonCode], ____: Properties | None) -> None:
        if all(reason.is_failure for reason in reasons):
            fleet.why = f"{where.host} does not let this user look at {BASE}/#: {reasons[0]}. See its access list."
        in_or_out.set()  # what is retained comes from now on; before that, silence says nothing

    def on_message(client: Client, data: Any, message: MQTTMessage) -> None:
        name, _, topic = message.topic.removeprefix(f"{BASE}/").partition("/")
        fleet.topics.setdefault(name, {})[topic] = message.payload.decode("utf-8", "replace")
        fleet.heard_s = monotonic()
        fleet.changed.set()

    client.on_connect, client.on_subscribe, client.on_message = on_connect, on_subscribe, on_message
    client.on_disconnect = on_disconnect
    if where.user:
        client.username_pw_set(where.user, environ.get(PASSWORD))
    try:
        if where.tls:
            client.tls_set(ca_certs=str(Path(where.ca_file).expanduser()) if where.ca_file else None)
    except (OSError, ValueError) as error:
        raise NoBroker(
            f"The certificate {where.ca_file} cannot be used: {error}. Look at ca= in the address."
        ) from None
    try:
        client.connect_timeout = WAIT_S
        client.connect(where.host, where.port)
    except (OSError, ValueError) as error:
        raise NoBroker(f"No answer from a broker at {where.host}:{where.port}: {error}.") from None
    client.loop_start()
    try:
        if not in_or_out.wait(WAIT_S):
            raise NoBroker(f"{where.host}:{where.port} takes the call and does not answer. Is it a broker?")
        if fleet.why:
            raise NoBroker(fleet.why)
        _until_quiet(fleet)
        yield fleet
    finally:
        client.disconnect()
        client.loop_stop()


def _until_quiet(fleet: Fleet) -> None:
    begun_s = fleet.heard_s = monotonic()
    while monotonic() - fleet.heard_s < QUIET_S and monotonic() - begun_s < WAIT_S:
        fleet.changed.wait(QUIET_S / 2.0)
        fleet.changed.clear()
