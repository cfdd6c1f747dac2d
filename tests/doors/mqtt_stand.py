"""Real parts for the broker's tests: Debian's mosquitto on loopback, a line that can be cut, a plain client that listens.

mosquitto is not in PATH of an ordinary user; where it is missing the tests are skipped, which is an error with CI=true.
"""

from __future__ import annotations

import os
import select
import socket
import subprocess
import threading
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from shutil import which
from time import monotonic
from typing import Any, Literal

import pytest
from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion

from tests.faults_live.stand import until

MOSQUITTO = which("mosquitto", path=f"{os.environ.get('PATH', '')}:/usr/sbin:/usr/local/sbin")
needs_broker = pytest.mark.skipif(MOSQUITTO is None, reason="mosquitto is not installed (apt install mosquitto)")


def free_port() -> int:
    with closing(socket.socket()) as sock:
        sock.bind(("127.0.0.1", 0))
        port: int = sock.getsockname()[1]
        return port


class Broker:
    """One mosquitto that keeps nothing on disk. ``more``: lines for its configuration, ``conf``: all of it."""

    def __init__(
        self, folder: Path, *, more: str = "allow_anonymous true", listener: str = "", port: int = 0, conf: str = ""
    ) -> None:
        self.port = port or free_port()
        self._folder = folder
        folder.mkdir(parents=True, exist_ok=True)
        self._conf = folder / "mosquitto.conf"
        lines = conf or f"listener {self.port} 127.0.0.1\n{listener}\n{more}"
        self._conf.write_text(f"{lines}\npersistence false\nlog_dest file {folder / 'log'}\nlog_type all\nuser root\n")
        self._process: subprocess.Popen[bytes] | None = None
        self.start()

    def start(self) -> None:
        assert MOSQUITTO is not None
        self._process = subprocess.Popen([MOSQUITTO, "-c", str(self._conf)], stderr=subprocess.DEVNULL)
        until(self._answers, within_s=10.0, what=f"mosquitto listens: {self.log()}")

    def stop(self) -> None:
        """End it; what it retained is gone."""
        if self._process is not None:
            self._process.kill()
            self._process.wait()
            self._process = None

    def log(self) -> str:
        path = self._folder / "log"
        return path.read_text(errors="replace") if path.exists() else ""

    def _answers(self) -> bool:
        with suppress(OSError), closing(socket.create_connection(("127.0.0.1", self.port), 1.0)):
            return True
        return False


@contextmanager
def broker(folder: Path, **more: Any) -> Iterator[Broker]:
    """A broker for the length of a test."""
    made = Broker(folder, **more)
    try:
        yield made
    finally:
        made.stop()


Mode = Literal["pass", "stall", "refuse", "slow"]


class Line:
    """A line to a broker that can be cut, stalled (half-open: both ends think it is up) or slowed down."""

    def __init__(self, to_port: int) -> None:
        self._to_port = to_port
        self._server = socket.create_server(("127.0.0.1", 0))
        self._server.setblocking(False)
        self.port: int = self._server.getsockname()[1]
        self.mode: Mode = "pass"
        self.bytes_per_s = 2000
        self.passed = 0
        self._pairs: dict[socket.socket, socket.socket] = {}
        self._ending = False
        self._lock = threading.Lock()
        self._thread = threading.Thread(target=self._run, name="line", daemon=True)
        self._thread.start()

    def cut(self) -> None:
        """End every connection at once, with a reset."""
        with self._lock:
            for sock in list(self._pairs):
                sock.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, b"\x01\x00\x00\x00\x00\x00\x00\x00")
                sock.close()
            self._pairs.clear()

    def close(self) -> None:
        self._ending = True
        self._thread.join()
        self.cut()
        self._server.close()

    def _run(self) -> None:
        pause = threading.Event()
        while not self._ending:
            with self._lock:
                ready, _, _ = select.select([self._server, *self._pairs], [], [], 0.01)
                for sock in ready:
                    if sock is self._server:
                        self._accept()
                    elif sock in self._pairs and self.mode in ("pass", "slow"):
                        self._carry(sock)
            pause.wait(0.05 if self.mode == "slow" else 0.001 if self.mode == "pass" else 0.02)

    def _accept(self) -> None:
        with suppress(BlockingIOError):
            near, _ = self._server.accept()
            if self.mode == "refuse":
                near.close()
                return
            try:
                far = socket.create_connection(("127.0.0.1", self._to_port), 1.0)
            except OSError:
                near.close()
                return
            self._pairs[near], self._pairs[far] = far, near

    def _carry(self, sock: socket.socket) -> None:
        other = self._pairs[sock]
        try:
            data = sock.recv(max(1, int(self.bytes_per_s * 0.05)) if self.mode == "slow" else 65536)
            if data:
                other.sendall(data)
                self.passed += len(data)
                return
        except OSError:
            pass
        for end in (sock, other):
            self._pairs.pop(end, None)
            end.close()


@contextmanager
def line(to_port: int) -> Iterator[Line]:
    made = Line(to_port)
    try:
        yield made
    finally:
        made.close()


@dataclass
class Listener:
    """A plain client: what is retained by topic, and every message that came, in order."""

    port: int
    topics: str = "homie/5/#"
    user: str = ""
    word: str = ""
    prepare: Callable[[Client], None] | None = None
    patience_s: float = 10.0
    state: dict[str, str] = field(default_factory=dict)
    heard: list[tuple[str, str]] = field(default_factory=list)
    at_s: list[float] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._subscribed = threading.Event()
        self.client = Client(CallbackAPIVersion.VERSION2, f"listener-{id(self)}", protocol=MQTTProtocolVersion.MQTTv5)
        self.client.on_connect = lambda client, *_: client.subscribe(self.topics, 1)
        self.client.on_subscribe = lambda *_: self._subscribed.set()
        self.client.on_message = self._on_message
        if self.user:
            self.client.username_pw_set(self.user, self.word)
        if self.prepare is not None:
            self.prepare(self.client)
        self.client.connect("127.0.0.1", self.port)
        self.client.loop_start()
        if not self._subscribed.wait(self.patience_s):
            self.close()
            raise AssertionError("the listener could not subscribe")

    def _on_message(self, client: Client, data: Any, message: MQTTMessage) -> None:
        payload = message.payload.decode()
        if payload:
            self.state[message.topic] = payload
        else:
            self.state.pop(message.topic, None)
        self.heard.append((message.topic, payload))
        self.at_s.append(monotonic())

    def below(self, chamber: str) -> dict[str, str]:
        """Return the retained topics of a chamber by what follows its name."""
        start = f"homie/5/{chamber}/"
        return {
            topic.removeprefix(start): payload for topic, payload in list(self.state.items()) if topic.startswith(start)
        }

    def payloads(self, ending: str, after: int = 0) -> list[str]:
        """Return what came under topics with this ending, from the message with the number ``after`` on."""
        return [payload for topic, payload in self.heard[after:] if topic.endswith(ending)]

    def send(self, topic: str, payload: str | bytes, *, retain: bool = False) -> None:
        self.client.publish(topic, payload, 1, retain).wait_for_publish(5.0)

    def close(self) -> None:
        self.client.disconnect()
        self.client.loop_stop()


@contextmanager
def listener(port: int, topics: str = "homie/5/#", **more: Any) -> Iterator[Listener]:
    made = Listener(port, topics, **more)
    try:
        yield made
    finally:
        made.close()
