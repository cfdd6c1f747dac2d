"""The door holds a connection come what may, tells of its loss, and never lets the loop wait."""

from __future__ import annotations

import logging
from pathlib import Path
from time import monotonic

import pytest

from dryward.core.alarms import Alarm
from dryward.doors.mqtt import door as module
from dryward.doors.mqtt import session as session_module
from tests.doors.mqtt_house import House, house, plain
from tests.doors.mqtt_keys import password_file, secret
from tests.doors.mqtt_stand import broker, line, listener, needs_broker
from tests.faults_live.stand import until


@pytest.fixture(autouse=True)
def _quick(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(session_module, "LEFTOVER_S", 0.2)


def kinds(made: House) -> list[str]:
    return [n.kind for n in made.notices]


def test_without_a_broker_ticks_cost_nothing_and_it_ends_when_told(tmp_path: Path) -> None:
    with house(tmp_path, plain(1)) as made:
        for _ in range(200):
            made.turn(22.0)
        began = monotonic()
    assert monotonic() - began < 3.0
    assert sorted(made.turn_s)[len(made.turn_s) // 2] < 0.005


def test_it_can_be_closed_without_ever_having_begun(tmp_path: Path) -> None:
    made = House(tmp_path, plain(1))
    made.mqtt.turned()
    made.close()
    made.mqtt.close()
    made.mqtt.wake()


@needs_broker
def test_the_loop_is_told_when_the_broker_is_lost_and_when_it_is_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """F21: last acknowledged publish. The engine itself waits five minutes before it calls that an alarm."""
    monkeypatch.setattr(module, "LOST_S", 0.5)
    with (
        broker(tmp_path / "b") as served,
        line(served.port) as wire,
        listener(served.port) as heard,
        house(tmp_path / "h", plain(wire.port, keepalive_s=1)) as made,
    ):
        made.turn(22.0)
        until(lambda: heard.state.get("homie/5/shed/$state") == "ready", within_s=10.0, what="connected")
        until(lambda: kinds(made)[-1:] in ([], ["broker-well"]), within_s=5.0, what="well")
        before = len(kinds(made))
        wire.mode = "refuse"
        wire.cut()
        until(lambda: kinds(made)[before:] == ["broker-lost"], within_s=10.0, what="lost")
        wire.mode = "pass"
        until(lambda: kinds(made)[before:] == ["broker-lost", "broker-well"], within_s=10.0, what="well again")


def test_the_alarm_of_a_lost_broker_says_that_nothing_happens_to_the_meat() -> None:
    happened, meaning, advice = Alarm(key="broker-lost", subject="", phase="active", since_s=0.0).say()
    assert "five minutes" in happened
    assert meaning.startswith("Nothing for the meat")
    assert "lamp and buzzer" in advice


@needs_broker
def test_a_loop_that_hangs_is_seen_at_the_broker(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "HUNG_S", 0.5)
    with (
        broker(tmp_path / "b") as served,
        listener(served.port) as heard,
        house(tmp_path / "h", plain(served.port)) as made,
    ):

        def turned() -> bool:
            made.turn(22.0)
            return "true" in heard.payloads("shed/messages/ticking")

        until(turned, within_s=10.0, what="it ticks")
        until(lambda: heard.payloads("shed/messages/ticking")[-1] == "false", within_s=5.0, what="it hangs")
        made.tick()
        until(lambda: heard.state.get("homie/5/shed/messages/ticking") == "true", within_s=5.0, what="it ticks again")


@needs_broker
def test_a_snapshot_that_fails_ends_neither_thread_nor_daemon(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    with (
        broker(tmp_path / "b") as served,
        listener(served.port) as heard,
        house(tmp_path / "h", plain(served.port)) as made,
    ):
        whole = made.mqtt._status

        def broken() -> dict[str, object]:
            raise RuntimeError("no snapshot")

        made.mqtt._status = broken
        until(lambda: "no snapshot" in caplog.text, within_s=5.0, what="it fails")
        made.mqtt._status = whole
        made.turn(22.0)
        until(lambda: heard.state.get("homie/5/shed/$state") == "ready", within_s=10.0, what="ready all the same")


@needs_broker
def test_no_secret_is_logged_or_published(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.DEBUG)
    words = password_file(tmp_path, shed="S3CRET-shed", display="d")
    kept = secret(tmp_path / "word", "S3CRET-shed")
    with (
        broker(tmp_path / "b", more=f"password_file {words}") as served,
        listener(served.port, user="display", word="d") as heard,
        house(tmp_path / "h", plain(served.port, user="shed", password_file=kept)) as made,
    ):
        made.turn(22.0)
        until(lambda: heard.state.get("homie/5/shed/$state") == "ready", within_s=10.0, what="ready")
        (tmp_path / "word").chmod(0o644)
        served.stop()
        until(lambda: "mode 0644" in caplog.text, within_s=10.0, what="a secret that is open to others is not used")
    assert "S3CRET" not in caplog.text
    assert not any("S3CRET" in payload for _, payload in heard.heard)
