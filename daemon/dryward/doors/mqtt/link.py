"""One connection to the broker, from CONNECT to its end, driven by one thread of ours.

The client library keeps its queue in memory, sends it again by itself after a reconnect and loses its thread when a
callback fails. So each connection is a new client, nothing is queued in it beyond what is in flight, and no callback
does more than append to a list. Whoever holds the link decides what is sent again.
"""

from __future__ import annotations

import os
import select
import socket
import ssl
from collections import deque
from contextlib import suppress
from dataclasses import dataclass
from time import monotonic
from typing import Any

from paho.mqtt.client import Client, ConnectFlags, DisconnectFlags, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion, MQTTErrorCode, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode
from paho.mqtt.subscribeoptions import SubscribeOptions

from dryward.doors.mqtt.asks import LONGEST
from dryward.doors.secret import password, secret_file
from dryward.settings import MqttSettings

CONNECT_S = 5.0
WINDOW = 20
"""Messages in flight. No more than a broker takes by default, so that none has to be told to slow down."""
STUCK_S = 30.0  # nothing is acknowledged for so long: the connection is given up, however alive it looks
CHECK_EVERY_S = 2.0
QOS = 1
HEADER = 12  # bytes of a PUBLISH beside topic and payload: 1 + 4, length of the topic 2, number 2, no properties 1; two spare
LARGEST = 268_435_455  # bytes; MQTT 5, 2.1.4 (https://docs.oasis-open.org/mqtt/mqtt/v5.0/mqtt-v5.0.html)


class LinkError(Exception):
    """No connection could be made; the text says why. Never holds a secret."""


@dataclass(frozen=True, slots=True)
class Message:
    """What came in."""

    topic: str
    payload: bytes
    retained: bool


class Link:
    """A connection. ``open`` may raise LinkError; nothing else raises. ``wake`` is an eventfd that ends a wait."""

    def __init__(self, settings: MqttSettings, *, client_id: str, will_topic: str, wake: int = -1) -> None:
        self._settings = settings
        self._five = settings.version == "5"
        self._wake = wake
        self._client = self._make_client(client_id)
        self._client.will_set(will_topic, "lost", QOS, retain=True)
        self.received: deque[Message] = deque(maxlen=1000)
        self.acknowledged: deque[tuple[int, str]] = deque()  # number, and why the broker refused it ('': it took it)
        self.subscribed: set[int] = set()
        self.why = ""  # why it is over
        self._closed = False
        self.window = WINDOW
        self._up = False
        self._poll, self._polled = select.poll(), (-1, 0)
        self._checked_s = 0.0
        self._in_flight: set[int] = set()
        self._largest, self._unsent = LARGEST, 0
        self._moved_s = 0.0  # when something was last acknowledged, or nothing was waiting to be

    @property
    def room(self) -> int:
        """How many more messages may be sent now."""
        return max(0, self.window - len(self._in_flight)) if self._up else 0

    @property
    def clear(self) -> bool:
        """Whether everything sent has at least left this process: a slow line takes no more now."""
        return self._up and not self._client.want_write()

    @property
    def quiet(self) -> bool:
        """Whether the connection stands and everything sent has been acknowledged."""
        return self._up and not self._in_flight

    def open(self) -> None:
        """Connect and log in, or raise LinkError."""
        try:
            self._prepare()
            properties = None
            if self._five:
                properties = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call]
                properties.MaximumPacketSize = LONGEST + 1024
            self._client.connect(
                self._settings.host, _port(self._settings), self._settings.keepalive_s, properties=properties
            )
        except (OSError, ValueError) as error:  # ssl's errors are OSErrors
            self.abandon()
            raise LinkError(f"{self._settings.host}:{_port(self._settings)}: {error}") from None
        deadline = monotonic() + CONNECT_S
        while not self._up and not self.why and monotonic() < deadline:
            self.pump(0.2)
        if not self._up:
            self.abandon()
            raise LinkError(f"{self._settings.host}: {self.why or 'no answer to the log-in'}")
        self._moved_s = monotonic()
        sock = self._socket()
        if isinstance(sock, socket.socket):  # data that nobody confirms ends the connection too
            with suppress(OSError):
                sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_USER_TIMEOUT, int(STUCK_S * 1000))

    def subscribe(self, topic: str) -> int:
        """Subscribe without getting one's own messages back (MQTT 5 only); return the number that ``subscribed`` will hold."""
        if self._five:
            options = SubscribeOptions(qos=QOS, noLocal=True, retainAsPublished=True)
            result, mid = self._client.subscribe(topic, options=options)
        else:
            result, mid = self._client.subscribe(topic, QOS)
        return -1 if result != MQTTErrorCode.MQTT_ERR_SUCCESS or mid is None else mid

    def unsubscribe(self, topic: str) -> None:
        self._client.unsubscribe(topic)

    def publish(self, topic: str, payload: str, *, retain: bool, sure: bool = True) -> int:
        """Send a message. ``sure``: return its number, which ``acknowledged`` will hold; else nobody confirms it.

        An empty payload clears what is retained.
        """
        content = payload.encode("utf-8", "backslashreplace")
        if (size := len(topic.encode()) + len(content) + HEADER) > self._largest:  # sent, it would end the connection
            self._unsent -= 1
            if sure:
                cure = f"it has {size} bytes and the broker takes {self._largest}. Raise max_packet_size there."
                self.acknowledged.append((self._unsent, cure))
            return self._unsent
        if not sure:
            return self._client.publish(topic, content, 0, retain).mid
        if not self._in_flight:
            self._moved_s = monotonic()
            self._client.on_publish = self._on_publish
        mid = self._client.publish(topic, content, QOS, retain).mid
        self._in_flight.add(mid)
        return mid

    def flush(self) -> None:
        """Write what waits to be written, as far as the line takes it."""
        with suppress(OSError, ValueError):  # the next pump finds out
            if not self._closed and self._client.want_write():
                self._client.loop_write()

    def pump(self, wait_s: float) -> bool:
        """Wait for the broker or for ``wake``, take what comes, send what waits. False: the connection is over."""
        sock = self._socket()
        if sock is None:
            return self._over()
        pending = isinstance(sock, ssl.SSLSocket) and sock.pending() > 0
        try:
            if self._wait(sock, 0.0 if pending else wait_s) or pending:
                self._client.loop_read()
            if self._client.want_write():
                self._client.loop_write()
            if monotonic() - self._checked_s >= CHECK_EVERY_S:
                self._checked_s = monotonic()
                self._client.loop_misc()
        except (OSError, ValueError, AttributeError, IndexError, KeyError) as error:
            # Whatever a broker sends and the library chokes on ends this connection, never the thread.
            self.why = f"{type(error).__name__}: {error}"
        if self._in_flight and monotonic() - self._moved_s > STUCK_S:
            self.why = f"nothing was acknowledged for {STUCK_S:.0f} s"
        return self._over() if self.why or self._socket() is None else True

    def hang_up(self, within_s: float = 1.0) -> None:
        """Send what is on its way, say good-bye and close."""
        deadline = monotonic() + within_s
        while self._in_flight and monotonic() < deadline and self.pump(0.1):
            pass
        if self._up:
            with suppress(OSError, ValueError):
                self._client.disconnect()
                self.pump(0.0)
        self.abandon()

    def abandon(self) -> None:
        """Close without a word."""
        sock = self._socket()
        self._up, self._closed = False, True
        if sock is not None:
            with suppress(OSError):
                sock.close()

    # ---- inside

    def _socket(self) -> Any:
        return None if self._closed else self._client.socket()

    def _over(self) -> bool:
        self.abandon()
        self.why = self.why or "the connection was lost"
        return False

    def _wait(self, sock: Any, wait_s: float) -> bool:
        number = sock.fileno()
        wanted = (number, select.POLLIN | select.POLLOUT if self._client.want_write() else select.POLLIN)
        if wanted != self._polled:
            self._polled = wanted
            self._poll = select.poll()
            self._poll.register(*wanted)
            if self._wake >= 0:
                self._poll.register(self._wake, select.POLLIN)
        readable = False
        for ready, what in self._poll.poll(wait_s * 1000.0):
            if ready == self._wake:
                with suppress(BlockingIOError):
                    os.eventfd_read(self._wake)
            else:
                readable = bool(what & ~select.POLLOUT)
        return readable

    def _make_client(self, client_id: str) -> Client:
        protocol = MQTTProtocolVersion.MQTTv5 if self._five else MQTTProtocolVersion.MQTTv311
        client = Client(
            CallbackAPIVersion.VERSION2,
            client_id,
            clean_session=None if self._five else True,
            protocol=protocol,
            reconnect_on_failure=False,
        )
        client.suppress_exceptions = True
        client.connect_timeout = CONNECT_S
        client.on_connect = self._on_connect
        client.on_disconnect = self._on_disconnect
        client.on_subscribe = self._on_subscribe
        client.on_message = self._on_message
        # Without it every message would be written inside publish; so it waits for the next pump.
        client.on_socket_register_write = lambda *_: None
        return client

    def _prepare(self) -> None:
        s = self._settings
        if s.user:
            self._client.username_pw_set(s.user, password(s.password_file) if s.password_file else None)
        if s.tls:
            named = s.ca_file
            try:  # these errors name no file themselves
                context = ssl.create_default_context(cafile=s.ca_file or None)
                if s.certificate_file:
                    named = s.certificate_file
                    context.load_cert_chain(s.certificate_file, str(secret_file(s.key_file)))
            except OSError as error:
                raise LinkError(
                    f"The certificate {named} cannot be used ({error}): look at [mqtt] in the chamber file."
                ) from None
            self._client.tls_set_context(context)

    def _on_connect(
        self, client: Client, data: Any, flags: ConnectFlags, reason: ReasonCode, properties: Properties | None
    ) -> None:
        if reason.is_failure:
            self.why = f"log-in refused: {reason}. Does the broker know [mqtt] user, and with this secret?"
            return
        allowed = getattr(properties, "ReceiveMaximum", WINDOW) if self._five else WINDOW
        self.window = min(WINDOW, allowed)
        self._largest = getattr(properties, "MaximumPacketSize", self._largest) if self._five else self._largest
        self._up = True

    def _on_disconnect(
        self, client: Client, data: Any, flags: DisconnectFlags, reason: ReasonCode, properties: Properties | None
    ) -> None:
        self._up = False
        self.why = self.why or f"the connection ended: {reason}"

    def _on_publish(
        self, client: Client, data: Any, mid: int, reason: ReasonCode, properties: Properties | None
    ) -> None:
        if mid in self._in_flight:  # it is called for what nobody confirms, too
            self._in_flight.discard(mid)
            self._moved_s = monotonic()
            self.acknowledged.append((mid, str(reason) if reason.is_failure else ""))
            if not self._in_flight:
                self._client.on_publish = None  # it would cost more than the sending of what nobody confirms

    def _on_subscribe(
        self, client: Client, data: Any, mid: int, reasons: list[ReasonCode], properties: Properties | None
    ) -> None:
        self.subscribed.add(mid)

    def _on_message(self, client: Client, data: Any, message: MQTTMessage) -> None:
        with suppress(UnicodeDecodeError):
            self.received.append(Message(message.topic, bytes(message.payload), message.retain))


def _port(settings: MqttSettings) -> int:
    return settings.port or (8883 if settings.tls else 1883)
