"""TLS, passwords and the access list of config/ together: who may look, who may stop, who may start nothing."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from paho.mqtt.client import Client

from dryward.settings import MqttSettings
from tests.doors.mqtt_house import House, house
from tests.doors.mqtt_keys import Keys, make_keys, password_file, secret
from tests.doors.mqtt_stand import Broker, Listener, broker, listener, needs_broker
from tests.doors.test_mqtt_session import request
from tests.faults_live.stand import until

ACL = Path(__file__).parents[2] / "config" / "mosquitto-acl.example"
WORDS = {"shed": "w-shed", "cellar": "w-cellar", "display": "w-display", "phone": "w-phone"}
pytestmark = needs_broker


@pytest.fixture(scope="module")
def keys(tmp_path_factory: pytest.TempPathFactory) -> Keys:
    return make_keys(tmp_path_factory.mktemp("keys"))


@pytest.fixture
def served(tmp_path: Path, keys: Keys) -> Iterator[Broker]:
    tls = f"cafile {keys['ca.pem']}\ncertfile {keys['broker.pem']}\nkeyfile {keys['broker.key']}"
    more = f"password_file {password_file(tmp_path, **WORDS)}\nacl_file {ACL}\nallow_anonymous false"
    with broker(tmp_path / "broker", listener=tls, more=more) as made:
        yield made


def settings(served: Broker, keys: Keys, folder: Path, user: str) -> MqttSettings:
    word = secret(folder / f"{user}.word", WORDS[user])
    return MqttSettings(host="127.0.0.1", port=served.port, ca_file=keys["ca.pem"], user=user, password_file=word)


def person(served: Broker, keys: Keys, user: str) -> Any:
    def prepare(client: Client) -> None:
        client.tls_set(ca_certs=keys["ca.pem"])

    return listener(served.port, user=user, word=WORDS[user], prepare=prepare)


def ask(who: Listener, chamber: House, verb: str) -> None:
    who.send(f"homie/5/shed/request/{verb}/set", json.dumps(request(chamber.bench.state.run.run_id)))


def test_the_owner_looks_and_stops_a_display_only_looks(served: Broker, keys: Keys, tmp_path: Path) -> None:
    with (
        person(served, keys, "display") as display,
        person(served, keys, "phone") as phone,
        house(tmp_path / "h", settings(served, keys, tmp_path, "shed"), run=()) as shed,
    ):
        shed.turn(40.0)
        until(lambda: display.state.get("homie/5/shed/$state") == "ready", within_s=10.0, what="the display sees it")
        shed.say("something happened")
        until(
            lambda: any("something" in p for p in phone.payloads("events/event")),
            within_s=5.0,
            what="the phone hears it",
        )
        ask(display, shed, "stop")
        ask(phone, shed, "start")
        ask(phone, shed, "stop")
        until(lambda: phone.payloads("request/answer"), within_s=5.0, what="the owner is answered")
        assert [r.ask.verb for r in shed.requests] == ["stop"]
        assert len(phone.payloads("request/answer")) == 1


def test_a_chamber_cannot_speak_for_another(served: Broker, keys: Keys, tmp_path: Path) -> None:
    with (
        person(served, keys, "display") as display,
        house(tmp_path / "h", settings(served, keys, tmp_path, "cellar"), name="shed") as liar,
    ):
        liar.turn(22.0)
        until(lambda: "Denied PUBLISH" in served.log(), within_s=10.0, what="the broker says no")
        assert display.state == {}


def test_without_a_password_nobody_sees_anything(served: Broker, keys: Keys) -> None:
    with (
        pytest.raises(AssertionError, match="could not subscribe"),
        listener(served.port, patience_s=1.0, prepare=lambda c: c.tls_set(ca_certs=keys["ca.pem"])),
    ):
        pass
