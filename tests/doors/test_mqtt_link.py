"""One connection: TLS that is verified, log-ins, brokers that say nothing or nonsense. It ends; it never breaks or hangs."""

from __future__ import annotations

import random
import socket
import threading
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from time import monotonic
from typing import Any

import pytest

from dryward.doors.mqtt import link as module
from dryward.doors.mqtt.link import Link, LinkError
from dryward.doors.secret import SecretError
from dryward.settings import MqttSettings
from tests.doors.mqtt_keys import Keys, make_keys, password_file, secret
from tests.doors.mqtt_stand import Broker, broker, needs_broker


@pytest.fixture(scope="module")
def keys(tmp_path_factory: pytest.TempPathFactory) -> Keys:
    return make_keys(tmp_path_factory.mktemp("keys"))


def tls_lines(keys: Keys, *, of_chambers: bool = False) -> str:
    lines = f"cafile {keys['ca.pem']}\ncertfile {keys['broker.pem']}\nkeyfile {keys['broker.key']}"
    return lines + "\nrequire_certificate true\nuse_identity_as_username true" if of_chambers else lines


@pytest.fixture(scope="module")
def tls_broker(keys: Keys, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Broker]:
    with broker(tmp_path_factory.mktemp("tls"), listener=tls_lines(keys)) as made:
        yield made


def opened(settings: MqttSettings) -> Link:
    link = Link(settings, client_id="test", will_topic="homie/5/x/$state")
    link.open()
    return link


def works(settings: MqttSettings) -> bool:
    """Connect, publish surely, hear the acknowledgement."""
    link = opened(settings)
    mid = link.publish("homie/5/x/a/b", "1", retain=True)
    deadline = monotonic() + 5.0
    while not link.acknowledged and monotonic() < deadline:
        assert link.pump(0.2)
    link.hang_up()
    return list(link.acknowledged) == [(mid, "")]


@needs_broker
@pytest.mark.parametrize("version", ["5", "3.1.1"])
def test_it_publishes_and_hears_that_it_arrived(tmp_path: Path, version: Any) -> None:
    with broker(tmp_path) as served:
        assert works(MqttSettings(host="127.0.0.1", port=served.port, tls=False, version=version))


@needs_broker
@pytest.mark.parametrize("version", ["5", "3.1.1"])
def test_tls_with_a_known_authority(tls_broker: Broker, keys: Keys, version: Any) -> None:
    assert works(MqttSettings(host="127.0.0.1", port=tls_broker.port, ca_file=keys["ca.pem"], version=version))


@needs_broker
@pytest.mark.parametrize(
    ("host", "authority", "said"),
    [
        ("127.0.0.1", "stranger.pem", "certificate verify failed"),
        ("127.0.0.1", "", "certificate verify failed"),
        ("localhost", "ca.pem", "not valid for 'localhost'"),  # its certificate names 127.0.0.1 only
    ],
)
def test_a_broker_that_cannot_prove_who_it_is_gets_nothing(
    tls_broker: Broker, keys: Keys, host: str, authority: str, said: str
) -> None:
    before = tls_broker.log().count("Received CONNECT")
    with pytest.raises(LinkError, match=said):
        opened(MqttSettings(host=host, port=tls_broker.port, ca_file=authority and keys[authority]))
    assert tls_broker.log().count("Received CONNECT") == before


@needs_broker
def test_a_chamber_can_show_itself_by_a_certificate(tmp_path: Path, keys: Keys) -> None:
    with broker(tmp_path, listener=tls_lines(keys, of_chambers=True)) as served:
        bare = MqttSettings(host="127.0.0.1", port=served.port, ca_file=keys["ca.pem"])
        with pytest.raises(LinkError):
            opened(bare)
        shown = MqttSettings(
            host="127.0.0.1",
            port=served.port,
            ca_file=keys["ca.pem"],
            certificate_file=keys["shed.pem"],
            key_file=keys["shed.key"],
        )
        assert works(shown)
        assert "u'shed'" in served.log()


def test_a_key_that_others_can_read_is_not_used(tmp_path: Path, keys: Keys) -> None:
    copy = tmp_path / "key"
    copy.write_bytes(Path(keys["shed.key"]).read_bytes())
    copy.chmod(0o644)
    settings = MqttSettings(
        host="127.0.0.1", port=1, ca_file=keys["ca.pem"], certificate_file=keys["shed.pem"], key_file=str(copy)
    )
    with pytest.raises(SecretError, match="mode 0644"):
        opened(settings)


@needs_broker
def test_log_in_by_password(tmp_path: Path) -> None:
    words = password_file(tmp_path, shed="word-1")
    with broker(tmp_path / "b", more=f"password_file {words}") as served:
        settings = MqttSettings(
            host="127.0.0.1", port=served.port, tls=False, user="shed", password_file=secret(tmp_path / "w", "word-1")
        )
        assert works(settings)
        secret(tmp_path / "w", "word-2")
        with pytest.raises(LinkError, match=r"log-in refused: Not authorized") as refused:
            opened(settings)
        assert "word" not in str(refused.value)


@needs_broker
def test_tls_to_a_broker_without_it_fails_and_says_so(tmp_path: Path) -> None:
    with broker(tmp_path) as served, pytest.raises(LinkError):
        opened(MqttSettings(host="127.0.0.1", port=served.port))


@pytest.mark.parametrize("content", [None, "no certificate"])
def test_a_certificate_that_cannot_be_used_is_named(tmp_path: Path, content: str | None) -> None:
    if content is not None:
        (tmp_path / "ca.pem").write_text(content)
    with pytest.raises(LinkError, match=r"ca\.pem cannot be used"):
        Link(
            MqttSettings(host="127.0.0.1", port=1, ca_file=str(tmp_path / "ca.pem")), client_id="c", will_topic="w"
        ).open()


def test_nobody_there_is_told_with_host_and_port() -> None:
    with pytest.raises(LinkError, match=r"127\.0\.0\.1:1: .*refused"):
        opened(MqttSettings(host="127.0.0.1", port=1, tls=False))


Talk = Callable[[socket.socket], None]


@contextmanager
def server(talk: Talk) -> Iterator[MqttSettings]:
    """Something that is no broker: ``talk`` has its way with each caller."""
    with closing(socket.create_server(("127.0.0.1", 0))) as listening:
        listening.settimeout(0.1)
        ending = threading.Event()

        def serve() -> None:
            while not ending.is_set():
                try:
                    caller, _ = listening.accept()
                except OSError:
                    continue
                with caller:
                    caller.settimeout(2.0)
                    try:
                        talk(caller)
                    except OSError:
                        continue

        thread = threading.Thread(target=serve)
        thread.start()
        try:
            yield MqttSettings(host="127.0.0.1", port=listening.getsockname()[1], tls=False)
        finally:
            ending.set()
            thread.join()


def test_a_broker_that_never_answers_is_given_up(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "CONNECT_S", 0.3)
    with server(lambda caller: caller.recv(1000) and None) as settings, pytest.raises(LinkError):
        opened(settings)
    enough = threading.Event()
    with server(lambda caller: enough.wait(10.0) and None) as settings:
        try:
            with pytest.raises(LinkError, match="no answer to the log-in"):
                opened(settings)
        finally:
            enough.set()


def test_an_acknowledgement_that_never_comes_ends_the_connection(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "STUCK_S", 0.3)

    def swallow(caller: socket.socket) -> None:
        caller.recv(1000)
        caller.sendall(b"\x20\x03\x00\x00\x00")  # CONNACK of MQTT 5: success, no properties
        while caller.recv(1000):
            pass

    with server(swallow) as settings:
        link = opened(settings)
        link.publish("a", "1", retain=False)
        deadline = monotonic() + 5.0
        while link.pump(0.1) and monotonic() < deadline:
            pass
        assert "nothing was acknowledged" in link.why
        assert link.room == 0
        assert not link.pump(0.0)


def test_a_broker_that_talks_nonsense_ends_the_connection_and_breaks_nothing() -> None:
    chance = random.Random(3)
    for _ in range(25):
        packets = bytes(
            [chance.choice([0x20, 0x30, 0x32, 0x40, 0x50, 0x62, 0x90, 0xB0, 0xD0, 0xE0, 0xF0, 0x00])]
        ) + chance.randbytes(chance.randrange(1, 60))

        def talk(caller: socket.socket, sent: bytes = packets) -> None:
            caller.recv(1000)
            caller.sendall(b"\x20\x03\x00\x00\x00" + sent)

        with server(talk) as settings:
            try:
                link = opened(settings)
            except LinkError:
                continue
            deadline = monotonic() + 3.0
            while link.pump(0.05) and monotonic() < deadline:
                pass
            link.abandon()
