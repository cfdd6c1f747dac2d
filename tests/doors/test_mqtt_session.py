"""What a chamber does at a broker, seen by a plain client: it announces itself, shows its state, hears requests."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import ExitStack, suppress
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from unittest.mock import Mock

import pytest

from dryward.core.inputs import Ack, Load, Notice, Reset, Stop
from dryward.doors.mqtt import session
from dryward.doors.mqtt.link import Message
from dryward.doors.mqtt.payload import rebuild
from tests.core.bench_chamber import piece
from tests.doors.mqtt_house import House, house, plain
from tests.doors.mqtt_stand import Broker, Listener, broker, listener, needs_broker
from tests.faults_live.stand import until

pytestmark = needs_broker


def close_to(told: Any) -> Any:
    """The same, but for what is rounded to a hundredth of an hour or a tenth of a gram."""
    if isinstance(told, dict):
        return {key: close_to(value) for key, value in told.items()}
    if isinstance(told, list):
        return [close_to(value) for value in told]
    return pytest.approx(told, abs=0.051) if isinstance(told, float) else told


@dataclass(slots=True)
class Scene:
    broker: Broker
    listener: Listener
    house: House
    stack: ExitStack

    def state(self) -> dict[str, str]:
        return self.listener.below("shed")

    def ready(self) -> None:
        until(lambda: self.state().get("$state") == "ready", within_s=10.0, what="ready")

    def ask(self, verb: str, /, retain: bool = False, **more: Any) -> dict[str, Any]:
        """Send a request, wait for its answer and return it."""
        sent = request(**{"run": self.house.bench.state.run.run_id} | more)
        before = len(self.answers())
        self.listener.send(f"homie/5/shed/request/{verb}/set", json.dumps(sent), retain=retain)
        until(lambda: len(self.answers()) > before, within_s=5.0, what=f"{verb} is answered")
        answer: dict[str, Any] = self.answers()[-1]
        return answer

    def answers(self) -> list[dict[str, Any]]:
        return [json.loads(p) for p in self.listener.payloads("request/answer")]


NUMBER = iter(range(10_000))


def request(run: str, **more: Any) -> dict[str, Any]:
    expires = (datetime.now(UTC) + timedelta(seconds=60)).isoformat()
    return {"id": f"nonce-{next(NUMBER):05}", "run": run, "expires": expires, "who": "Ines", **more}


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Broker]:
    """A broker for each test: what the last one left retained would be heard among what this one is about."""
    with broker(tmp_path / "broker") as made:
        yield made


@pytest.fixture(params=["5", "3.1.1"])
def scene(
    request: pytest.FixtureRequest, served: Broker, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Scene]:
    monkeypatch.setattr(session, "LEFTOVER_S", 0.2)
    with ExitStack() as stack:
        heard = stack.enter_context(listener(served.port))
        settings = plain(served.port, version=request.param)
        chamber = stack.enter_context(house(tmp_path / "house", settings, run=(piece("a"), piece("b"))))
        chamber.turn(40.0)
        made = Scene(served, heard, chamber, stack)
        made.ready()
        yield made


def test_it_announces_itself_in_the_order_of_homie_5(scene: Scene) -> None:
    """Homie 5, "Device Lifecycle": init, then description and values, ready only when everything is there."""
    order = [topic.removeprefix("homie/5/shed/") for topic, payload in scene.listener.heard if payload]
    assert list(dict.fromkeys(scene.listener.payloads("shed/$state"))) == ["init", "ready"]
    first = order.index("$state")
    assert first < order.index("$description") < order.index("air/air-c") < len(order) - 1 - order[::-1].index("$state")
    assert json.loads(scene.state()["$description"])["nodes"].keys() >= {
        "air",
        "piece-a",
        "piece-b",
        "request",
        "events",
    }


REBUILT = (
    "sensors",
    "outputs",
    "operations",
    "pieces",
    "alarms",
    "meat",
    "next",
    "no_heat",
    "planned",
    "air",
    "run",
    "record",
)


def test_what_is_too_large_for_the_broker_is_told_and_all_else_arrives(
    tmp_path: Path, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A description of forty pieces once made the broker end every connection: nothing more was heard, no alarm either."""
    monkeypatch.setattr(session, "LEFTOVER_S", 0.2)
    with (
        broker(tmp_path / "b", more="allow_anonymous true\nmax_packet_size 6000") as served,
        listener(served.port) as heard,
        house(tmp_path / "h", plain(served.port), run=(piece("a"),)) as shed,
    ):
        shed.turn(40.0)
        until(lambda: heard.state.get("homie/5/shed/$state") == "ready", within_s=10.0, what="ready")
        assert heard.state["homie/5/shed/program/phase"] == "running"
        assert "homie/5/shed/$description" not in heard.state
    assert "does not take homie/5/shed/$description: it has" in caplog.text
    assert "broker takes 6000. Raise max_packet_size" in caplog.text


def test_a_plain_client_rebuilds_the_whole_state_from_topics_alone(scene: Scene) -> None:
    told = scene.house.status()
    for sensor in told["sensors"]:
        del sensor["age_s"]  # the one thing that is not told: it changes with every tick
    with listener(scene.broker.port) as late:  # it has seen nothing of what came before

        def differ() -> list[str]:
            again = rebuild(late.below("shed"))
            return [key for key in REBUILT if again[key] != close_to(told[key])]

        with suppress(AssertionError):  # which of them differ is said below
            until(lambda: not differ(), within_s=5.0, what="the same as the chamber's own snapshot")
        assert differ() == []


def test_changes_and_only_changes_are_told(scene: Scene) -> None:
    before = len(scene.listener.heard)
    scene.house.turn(40.6)
    until(lambda: scene.state()["air/air-c"] == "40.6", within_s=5.0, what="the change")
    scene.house.turn(40.7)
    until(lambda: scene.state()["air/air-c"] == "40.7", within_s=5.0, what="the next one, after all that came with it")
    changed = {topic.removeprefix("homie/5/shed/") for topic, _ in scene.listener.heard[before:]}
    assert "program/phase" not in changed
    assert "piece-a/name" not in changed
    assert len(changed) < 8


def test_an_alarm_stands_in_words_until_it_is_over(scene: Scene) -> None:
    scene.house.turn(40.0, notices=[Notice("keeper-lost", 3.0, "died")])
    until(lambda: "$alert/keeper-dying" in scene.state(), within_s=5.0, what="the alert")
    assert "switches died" in scene.state()["$alert/keeper-dying"]
    until(lambda: scene.state()["alarms/trips"] == "1", within_s=5.0, what="the trip is counted")
    scene.house.turn(40.0, asks=[Ack(alarm="all")])
    scene.house.bench.turns(700, 40.0)  # until the other alarm of the keeper is over too
    scene.house.bench.turn(40.0, asks=[Ack(alarm="all")])
    scene.house.turn(40.0, asks=[Reset()])
    assert scene.house.bench.replies[-1].accepted
    until(lambda: "$alert/keeper-dying" not in scene.state(), within_s=5.0, what="it is gone")


def test_another_batch_is_announced_anew_and_the_old_pieces_are_gone(scene: Scene) -> None:
    version = json.loads(scene.state()["$description"])["version"]
    scene.house.turn(40.0, asks=[Stop()])
    scene.house.bench.turns(5, 40.0)
    scene.house.turn(40.0, asks=[Load(pieces=(piece("c"),))])
    until(lambda: "piece-c/name" in scene.state(), within_s=5.0, what="the new piece")
    scene.ready()
    until(
        lambda: not any(topic.startswith("piece-a/") for topic in scene.state()),
        within_s=5.0,
        what="the old ones are gone",
    )
    about = json.loads(scene.state()["$description"])
    assert "piece-a" not in about["nodes"]
    assert about["version"] >= version
    states = [p for t, p in scene.listener.heard if t.endswith("shed/$state")]
    assert states[-2:] == ["init", "ready"]


def test_what_an_earlier_life_left_behind_is_cleared(scene: Scene, tmp_path: Path) -> None:
    scene.house.close()
    left = {"piece-old/weight-g", "$alert/over-limit", "sensor-gone/value"}
    for topic in left:
        scene.listener.send(f"homie/5/shed/{topic}", "1", retain=True)
    until(lambda: left <= set(scene.state()), within_s=5.0, what="they are there")
    until(lambda: scene.state()["$state"] == "disconnected", within_s=5.0, what="it has left")
    with house(tmp_path / "again", plain(scene.broker.port)) as again:
        again.turn(22.0)
        until(
            lambda: not left & set(scene.state()),
            within_s=10.0,
            what="cleared",
        )
        scene.ready()


def test_a_request_reaches_the_engine_as_one_from_the_broker_and_is_answered(scene: Scene) -> None:
    answer = scene.ask("weigh", piece="a", weight_g=612.5)
    assert answer["accepted"] is True
    (taken,) = scene.house.requests
    assert taken.ask.verb == "weigh"
    assert (taken.who, taken.origin) == ("Ines", "broker")
    assert taken.request_id == f"broker:{answer['id']}"


REFUSED: tuple[tuple[str, dict[str, Any], str], ...] = (
    ("start", {"program": {"name": "p"}}, "may not be asked for"),
    ("resume", {}, "may not be asked for"),
    ("reset", {}, "may not be asked for"),
    ("weigh", {"piece": "a", "weight_g": "heavy"}, "weight_g"),
    ("weigh", {"piece": "a"}, "missing"),
    ("stop", {"run": "another"}, "meant for run"),
    ("stop", {"expires": "2020-01-01T00:00:00Z"}, "expired"),
    ("explode", {}, "no request called"),
)


def test_what_is_refused_is_answered_with_the_reason_and_reaches_nothing(scene: Scene) -> None:
    for verb, more, why in REFUSED:
        answer = scene.ask(verb, **more)
        assert answer["accepted"] is False
        assert why in answer["text"]
    assert scene.house.requests == []


def test_what_is_turned_away_at_the_door_is_put_on_record(scene: Scene) -> None:
    scene.ask("start", program={"name": "p"})
    (notice,) = [n for n in scene.house.notices if n.kind == "request-refused"]
    assert notice.text.startswith("Ines asked through the broker for start; refused: start may not")
    scene.house.bench.turn(40.0, notices=[notice])
    assert [e.kind for e in scene.house.bench.last.events] == ["request-refused"]


def test_a_session_recorded_and_played_again_does_nothing(scene: Scene) -> None:
    sent = [
        (verb, json.dumps(request("r1", **more)))
        for verb, more in (("hold", {"reason": "x"}), ("ack", {}), ("weigh", {"piece": "a", "weight_g": 700.0}))
    ]
    for verb, payload in sent:
        scene.listener.send(f"homie/5/shed/request/{verb}/set", payload)
    until(lambda: len(scene.answers()) == 3, within_s=5.0, what="three answers")
    assert [r.ask.verb for r in scene.house.requests] == ["hold", "ack", "weigh"]
    for verb, payload in sent:
        scene.listener.send(f"homie/5/shed/request/{verb}/set", payload)
    until(lambda: len(scene.answers()) == 6, within_s=5.0, what="three refusals")
    assert len(scene.house.requests) == 3
    assert all("has been here before" in a["text"] for a in scene.answers()[3:])


def test_a_retained_request_does_nothing_however_often_the_chamber_comes_back(served: Broker, tmp_path: Path) -> None:
    """MQTT 5 tells at once that it is retained; with 3.1.1 that is seen when the chamber connects."""
    with ExitStack() as stack:
        heard = stack.enter_context(listener(served.port))
        heard.send("homie/5/shed/request/stop/set", json.dumps(request("r1")), retain=True)
        try:
            for version in ("5", "3.1.1", "5"):
                before = len(heard.heard)
                settings = plain(served.port, version=version)
                with house(tmp_path / f"h{version}{len(heard.heard)}", settings, run=()) as chamber:
                    chamber.turn(40.0)
                    until(
                        lambda: any(n.kind == "request-refused" for n in chamber.notices), within_s=5.0, what="refused"
                    )
                    until(lambda: len(heard.payloads("request/answer", before)) == 1, within_s=5.0, what="answered")  # noqa: B023
                    assert chamber.requests == []
            assert all("retained" in json.loads(p)["text"] for p in heard.payloads("request/answer"))
        finally:
            heard.send("homie/5/shed/request/stop/set", b"", retain=True)


def test_retained_requests_without_end_fill_no_memory(tmp_path: Path) -> None:
    link, desk, box = Mock(), Mock(seen=()), Mock()
    made = session.Session(link, base="homie/5/shed", refresh_s=60.0, outbox=box, rights=frozenset(), desk=desk)
    for number in range(3 * session.MOST_ANSWERED):
        for _ in range(2):
            made._hear(Message("homie/5/shed/request/stop/set", str(number).encode(), retained=True))
        assert len(made._answered) <= session.MOST_ANSWERED
    assert desk.turn_away.call_count == 3 * session.MOST_ANSWERED  # each once


def test_letters_arrive_in_order_and_leave_the_box(scene: Scene) -> None:
    scene.house.say(*[str(n) for n in range(200)])
    until(lambda: scene.house.outbox.waiting().letters == 0, within_s=10.0, what="all delivered")

    def heard() -> list[str]:
        texts = [json.loads(p)["text"] for p in scene.listener.payloads("events/event")]
        return [text for text in texts if text.isdigit()]

    until(lambda: len(heard()) >= 200, within_s=5.0, what="all heard")
    assert heard() == [str(n) for n in range(200)]


def test_what_the_broker_does_not_let_through_waits_and_is_told_once(
    served: Broker, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    """An access list that forgot the events: mosquitto answers "Not authorized" (MQTT 5, reason code 0x87)."""
    acl = tmp_path / "acl"
    acl.write_text("topic readwrite homie/5/shed/#\ntopic deny homie/5/shed/events/event\n")
    with (
        broker(tmp_path / "b", more=f"allow_anonymous true\nacl_file {acl}") as strict,
        house(tmp_path / "h", plain(strict.port)) as chamber,
    ):
        chamber.turn(22.0)
        chamber.say("1", "2")
        until(lambda: "does not take homie/5/shed/events/event" in caplog.text, within_s=10.0, what="told")
        chamber.turn(22.5)
        assert chamber.outbox.waiting().letters >= 2
        assert caplog.text.count("does not take") == 1
