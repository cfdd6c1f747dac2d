"""The network suite: whatever becomes of line and broker, no tick waits, every alert arrives in order, the state is right again.

A real mosquitto on loopback; between it and the chamber a line that can be cut, stalled or slowed. The long forms (two
days' letters, fifty chambers) are ``python -m tests.bench.broker``.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from time import monotonic, time

import pytest
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion

from dryward.doors.mqtt import door as door_module
from dryward.doors.mqtt import session as session_module
from dryward.record import outbox as outbox_module
from tests.doors.mqtt_house import House, house, plain
from tests.doors.mqtt_keys import password_file, secret
from tests.doors.mqtt_stand import Broker, Line, Listener, broker, line, listener, needs_broker
from tests.faults_live.stand import until

pytestmark = needs_broker
RIGHT_AGAIN_S = 10.0  # the figure
LONGEST_TURN_S = 0.25  # what a tick may cost the loop's thread here, with other processes on the machine; a tick is 1 s


@dataclass(slots=True)
class Scene:
    """A chamber that turns twenty times a second, the broker, the line between them, a listener beside the line."""

    broker: Broker
    line: Line
    listener: Listener
    house: House
    stack: ExitStack

    def right(self) -> bool:
        state = self.listener.below("shed")
        air_c = self.house.bench.state.sensors[0].value
        return state.get("$state") == "ready" and air_c is not None and state.get("air/air-c") == f"{air_c:.1f}"

    def lost(self, after: int, *, within_s: float = 5.0) -> None:
        """Wait until the last will was heard; it may stand for a moment only."""
        until(
            lambda: "lost" in self.listener.payloads("shed/$state", after),
            within_s=within_s,
            what="the last will says so",
        )

    def heard(self) -> list[int]:
        """Return the numbers of the events in the order in which they came."""
        return [int(text) for p in self.listener.payloads("events/event") if (text := json.loads(p)["text"]).isdigit()]

    def heal(self, since_s: float) -> None:
        """The fault is over since then: within ten seconds the state is right, then every event has come, in order."""
        until(
            lambda: self.listener.state.get("homie/5/shed/$state") == "ready",
            within_s=since_s + RIGHT_AGAIN_S - monotonic(),
            what="ready again",
        )
        until(lambda: self.house.outbox.waiting().letters < 5, within_s=20.0, what="the outbox is empty again")
        self.house.still()
        until(self.right, within_s=5.0, what=f"the state is right: {self.listener.below('shed').get('air/air-c')}")
        until(lambda: self.house.outbox.waiting().letters == 0, within_s=10.0, what="everything was delivered")
        until(lambda: self.heard()[-1:] == [self.house.said], within_s=5.0, what="the last one is heard")
        assert list(dict.fromkeys(self.heard())) == list(range(1, self.house.said + 1))
        assert max(self.house.turn_s) < LONGEST_TURN_S


@pytest.fixture(autouse=True)
def _quick(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(session_module, "LEFTOVER_S", 0.2)


@pytest.fixture
def scene(tmp_path: Path) -> Iterator[Scene]:
    with ExitStack() as stack:
        served = stack.enter_context(broker(tmp_path / "broker"))
        wire = stack.enter_context(line(served.port))
        heard = stack.enter_context(listener(served.port))
        chamber = stack.enter_context(house(tmp_path / "house", plain(wire.port, keepalive_s=2), run=()))
        made = Scene(served, wire, heard, chamber, stack)
        chamber.tick()
        until(made.right, within_s=10.0, what="right from the beginning")
        yield made


def test_a_broker_that_is_absent_at_the_start_is_found_when_it_comes(tmp_path: Path) -> None:
    with ExitStack() as stack:
        served = stack.enter_context(broker(tmp_path / "broker"))
        wire = stack.enter_context(line(served.port))
        wire.mode = "refuse"
        heard = stack.enter_context(listener(served.port))
        chamber = stack.enter_context(house(tmp_path / "house", plain(wire.port), run=()))
        chamber.tick()
        until(lambda: chamber.said > 20, within_s=10.0, what="it turns without a broker")
        assert heard.state == {}
        wire.mode = "pass"
        Scene(served, wire, heard, chamber, stack).heal(monotonic())


def test_a_line_that_is_cut_again_and_again(scene: Scene) -> None:
    for _ in range(2):
        before = len(scene.listener.heard)
        scene.line.cut()
        scene.lost(before)
        until(lambda: scene.listener.state["homie/5/shed/$state"] == "ready", within_s=RIGHT_AGAIN_S, what="ready")
    scene.heal(monotonic())


def test_an_outage_of_two_days_with_an_event_a_minute(scene: Scene, monkeypatch: pytest.MonkeyPatch) -> None:
    """The wall clock and the events are those of 48 hours; the outbox is what they wait in."""
    before = len(scene.listener.heard)
    scene.line.mode = "refuse"
    scene.line.cut()
    scene.lost(before)
    for _ in range(48 * 60):
        scene.house.count()
    for module in (outbox_module, session_module):
        monkeypatch.setattr(module, "time", lambda: time() + 48 * 3600.0)
    scene.line.mode = "pass"
    scene.heal(monotonic())


def test_a_half_open_line_that_swallows_everything_is_given_up(scene: Scene) -> None:
    before = len(scene.listener.heard)
    scene.line.mode = "stall"
    scene.lost(before, within_s=10.0)
    scene.line.mode = "pass"
    scene.heal(monotonic())


def test_a_slow_line(scene: Scene) -> None:
    scene.line.bytes_per_s = 20_000
    before = len(scene.listener.heard)
    scene.line.mode = "slow"
    scene.line.cut()
    scene.lost(before)
    scene.heal(monotonic())


def test_a_broker_that_comes_back_empty(scene: Scene) -> None:
    scene.broker.stop()
    until(lambda: scene.house.outbox.waiting().letters > 10, within_s=10.0, what="events wait")
    scene.line.mode = "refuse"
    scene.listener.close()
    scene.broker.start()
    already = scene.listener.heard
    scene.listener = scene.stack.enter_context(listener(scene.broker.port))
    scene.listener.heard[:0] = already
    scene.line.mode = "pass"
    scene.heal(monotonic())
    assert "homie/5/shed/$description" in scene.listener.state


@pytest.mark.parametrize("step_s", [-86_400.0, 86_400.0])
def test_the_wall_clock_steps_during_an_outage(scene: Scene, monkeypatch: pytest.MonkeyPatch, step_s: float) -> None:
    scene.line.mode = "refuse"
    scene.line.cut()
    until(lambda: scene.house.outbox.waiting().letters > 10, within_s=10.0, what="events wait")
    for module in (outbox_module, session_module):
        monkeypatch.setattr(module, "time", lambda: time() + step_s)
    scene.line.mode = "pass"
    scene.heal(monotonic())


def test_another_client_with_the_same_id_cannot_silence_the_chamber(
    scene: Scene, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(door_module, "PUSHED_OFF", 2)
    rogue = Client(CallbackAPIVersion.VERSION2, "dryward-shed", protocol=MQTTProtocolVersion.MQTTv5)
    rogue.reconnect_delay_set(1, 1)
    rogue.connect("127.0.0.1", scene.broker.port)
    rogue.loop_start()
    try:
        until(lambda: "dryward-shed-" in scene.broker.log(), within_s=20.0, what="it goes on under a name with a tail")
        scene.heal(monotonic())
        until(rogue.is_connected, within_s=5.0, what="the other one has the name to itself")
    finally:
        rogue.disconnect()
        rogue.loop_stop()


def test_a_late_last_will_does_not_leave_a_living_chamber_lost(scene: Scene) -> None:
    before = len(scene.listener.heard)
    scene.listener.send("homie/5/shed/$state", "lost", retain=True)
    until(
        lambda: scene.listener.payloads("shed/$state", before) == ["lost", "ready"],
        within_s=5.0,
        what="it says that it lives",
    )
    scene.heal(monotonic())


def test_a_refused_login_is_tried_again_until_the_password_is_right(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    words = password_file(tmp_path, shed="right-word", display="d")
    with ExitStack() as stack:
        served = stack.enter_context(broker(tmp_path / "broker", more=f"password_file {words}"))
        heard = stack.enter_context(listener(served.port, user="display", word="d"))
        kept = secret(tmp_path / "word", "wrong-word")
        settings = plain(served.port, user="shed", password_file=kept)
        chamber = stack.enter_context(house(tmp_path / "house", settings, run=()))
        chamber.tick()
        until(lambda: "log-in refused" in caplog.text, within_s=10.0, what="the refusal is told")
        secret(tmp_path / "word", "right-word")
        Scene(served, None, heard, chamber, stack).heal(monotonic())  # type: ignore[arg-type]
        assert "right-word" not in caplog.text
        assert "wrong-word" not in caplog.text


def test_leaving_in_order_says_so(scene: Scene) -> None:
    scene.house.still()
    scene.house.mqtt.close()
    until(lambda: scene.listener.payloads("shed/$state")[-1] == "disconnected", within_s=5.0, what="it has left")
