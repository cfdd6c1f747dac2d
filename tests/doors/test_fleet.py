"""``status --broker`` lists every chamber, says what each needs, and prints nothing that could drive a terminal."""

from __future__ import annotations

import json
import threading
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path
from types import SimpleNamespace

import pytest
from click.testing import CliRunner

from dryward.core.inputs import Notice
from dryward.doors.cli import main
from dryward.doors.fleet import full, listed, plain
from dryward.doors.mqtt import session
from dryward.doors.mqtt.payload import rebuild
from tests.doors.mqtt_stand import Broker, broker, listener, needs_broker
from tests.doors.test_mqtt_fleet import begun
from tests.faults_live.stand import until

pytestmark = needs_broker


@pytest.fixture
def served(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Broker]:
    monkeypatch.setattr(session, "LEFTOVER_S", 0.2)
    with broker(tmp_path / "broker") as made:
        yield made


def test_the_list_shows_who_is_there_who_has_tripped_and_who_is_lost(served: Broker, tmp_path: Path) -> None:
    url = f"mqtt://127.0.0.1:{served.port}"
    with ExitStack() as stack:
        heard = stack.enter_context(listener(served.port))
        begun(stack, tmp_path, served, "shed")
        cellar = begun(stack, tmp_path, served, "cellar")
        cellar.turn(40.0, notices=[Notice("keeper-lost", 3.0, "died")])
        cellar.turn(40.0)
        heard.send("homie/5/barn/$state", "lost", retain=True)
        until(
            lambda: all(heard.state.get(f"homie/5/{n}/$state") == "ready" for n in ("shed", "cellar")),
            within_s=10.0,
            what="ready",
        )
        until(lambda: heard.state.get("homie/5/cellar/alarms/trips") == "1", within_s=5.0, what="the trip")
        until(lambda: heard.state.get("homie/5/cellar/program/phase") == "held", within_s=15.0, what="held")
        done = CliRunner().invoke(main, ["status", "--broker", url])
        assert done.exit_code == 0, done.output
        head, barn, first, second, _, *wants = done.output.splitlines()
        assert head.split() == ["chamber", "there", "run", "step", "air", "set", "done", "alarms"]
        assert barn.split()[:2] == ["barn", "lost"]
        assert first.split() == [
            "cellar",
            "ready",
            "held",
            "hot",
            "1/1",
            "40.0",
            "-",
            "0",
            "of",
            "1",
            "1,",
            "1",
            "TRIP",
        ]
        assert second.split() == ["shed", "ready", "running", "hot", "1/1", "40.0", "80.0", "0", "of", "1", "-"]
        assert any(w.startswith("cellar: Look at the power supply") for w in wants)
        assert any(w.startswith("barn is lost") for w in wants)
        one = CliRunner().invoke(main, ["status", "--broker", url, "--chamber", "shed"])
        assert one.exit_code == 0, one.output
        assert "shed: RUNNING" in one.output
        assert "air 40.0 degC" in one.output
        as_json = CliRunner().invoke(main, ["status", "--broker", url, "--json"])
        assert json.loads(as_json.output)["cellar"]["there"] == "ready"
        missing = CliRunner().invoke(main, ["status", "--broker", url, "--chamber", "attic"])
        assert missing.exit_code == 1
        assert "There: barn, cellar, shed." in missing.output
        half = CliRunner().invoke(main, ["status", "--broker", url, "--chamber", "barn"])
        assert "has not shown everything yet" in half.output


def test_a_broker_that_cannot_be_asked_ends_with_one() -> None:
    for url in ("mqtt://127.0.0.1:1", "mqtt://broker.lan", "nonsense"):
        done = CliRunner().invoke(main, ["status", "--broker", url])
        assert done.exit_code == 1
        assert done.output


def test_a_broker_that_goes_away_while_one_looks_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with broker(tmp_path / "b") as served:
        with listener(served.port) as somebody:
            somebody.send("homie/5/barn/$state", "ready", retain=True)
        looks = 0

        def later(_: float) -> None:
            nonlocal looks
            looks += 1
            if looks > 1:
                raise KeyboardInterrupt
            served.stop()
            threading.Event().wait(0.5)

        monkeypatch.setattr("dryward.doors.fleet.time", SimpleNamespace(sleep=later))
        done = CliRunner().invoke(main, ["status", "--broker", f"mqtt://127.0.0.1:{served.port}", "--watch"])
    before, _, after = done.output.partition("THIS IS OLD")
    assert "barn" in before
    assert "is lost" in after


@pytest.mark.parametrize("strange", [{"chamber/planned": "[5]"}, {"chamber/facts": "[{}]"}])
def test_a_chamber_that_shows_what_none_writes_is_said(strange: dict[str, str]) -> None:
    whole = {
        "program/phase": "running",
        "program/elapsed-h": "1",
        "chamber/duty-pct": "0",
        "chamber/energy-kwh": "0",
        "chamber/next": "Wait.",
    }
    assert "x: RUNNING" in full(("x", "ready", rebuild(whole) | {"chamber": "x"}))
    assert "no dryward writes" in full(("x", "ready", rebuild(whole | strange) | {"chamber": "x"}))


def test_an_empty_broker_is_said(served: Broker) -> None:
    done = CliRunner().invoke(main, ["status", "--broker", f"mqtt://127.0.0.1:{served.port}"])
    assert done.output == "No chamber has shown itself at this broker.\n"


def test_what_a_stranger_wrote_cannot_drive_the_terminal() -> None:
    shown = plain(listed([("x", "ready", rebuild({"program/phase": "running", "chamber/next": "\x1b[2Jgone"}))]))
    assert "\x1b" not in shown
    assert "?[2Jgone" in shown
