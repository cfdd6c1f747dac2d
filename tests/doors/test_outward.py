"""From the engine of a running daemon to a real broker and to a telephone: trip, finish, weigh-in; and over kills."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from time import time
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from dryward.core.commands import Commands, Event
from dryward.core.inputs import NOTHING, Load, Notice, Request, Start
from dryward.core.program import Ends, Piece, Program, Step
from dryward.doors import alerts as alerts_module
from dryward.doors.mqtt import session as session_module
from dryward.doors.outward import BROKER, open_outward, unsuitable
from dryward.record.moments import Stamp
from dryward.record.outbox import Draft, Outbox, missed_events
from dryward.record.writer import RecordWriter
from dryward.service.loop import View
from dryward.service.serve import Daemon
from dryward.settings import read_settings
from tests.core.bench_chamber import Bench
from tests.doors.conftest import turning
from tests.doors.mqtt_keys import secret
from tests.doors.mqtt_stand import Broker, Listener, broker, listener, needs_broker
from tests.doors.phone import Phone, phone
from tests.doors.test_mqtt_asks import near
from tests.doors.test_mqtt_session import request
from tests.faults_live.stand import until
from tests.record.scene import session
from tests.service.conftest import write_twin

SHORT = Program(name="short", cap_h=0.025, steps=(Step(name="warm", air_c=40.0, ends=Ends(own_target=True)),))
LONG = Program(name="long", cap_h=50.0, steps=(Step(name="warm", air_c=40.0, ends=Ends(own_target=True)),))


@dataclass(slots=True)
class Scene:
    daemon: Daemon
    broker: Broker
    heard: Listener
    rings: Phone

    def begin(self, program: Program, *pieces: Piece) -> None:
        for number, ask in enumerate((Load(pieces=pieces), Start(program=program, run_id="r1"))):
            pending = self.daemon._post(Request(request_id=f"b{number}", ask=ask, who="Ines"))
            assert pending.done.wait(10.0)
            assert pending.reply is not None
            assert pending.reply.accepted, pending.reply.text

    def events(self) -> list[dict[str, Any]]:
        return [json.loads(p) for p in self.heard.payloads("events/event")]

    def answers(self) -> list[dict[str, Any]]:
        return [json.loads(p) for p in self.heard.payloads("request/answer")]


def tables(port: int, folder: Path, rings: Phone, more: str = "", alerts: str = "") -> str:
    secret(folder / "people", rings.address)
    return f'\n[mqtt]\nhost = "127.0.0.1"\nport = {port}\ntls = false\n{more}\n[alerts]\nto = "people"\nweigh_every_h = 0.005\nrepeat_min = 0\n{alerts}\n'


@pytest.fixture(autouse=True)
def _quick(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(alerts_module, "LOOK_EVERY_S", 0.2)
    monkeypatch.setattr(session_module, "LEFTOVER_S", 0.2)


@contextmanager
def scene_of(folder: Path, more: str = "", alerts: str = "") -> Iterator[Scene]:
    """A daemon on the simulated dryer that turns twenty times as fast as real time, a broker, a listener, a telephone."""
    with ExitStack() as stack:
        rings = stack.enter_context(phone())
        served = stack.enter_context(broker(folder / "broker"))
        heard = stack.enter_context(listener(served.port))
        path = write_twin(folder)
        path.write_text(path.read_text() + tables(served.port, folder, rings, more, alerts))
        daemon = Daemon(read_settings(path), speed=20.0)
        stack.enter_context(turning(daemon))
        until(lambda: heard.state.get("homie/5/twin-dryer/$state") == "ready", within_s=15.0, what="ready")
        yield Scene(daemon, served, heard, rings)


@pytest.fixture
def scene(tmp_path: Path) -> Iterator[Scene]:
    with scene_of(tmp_path) as made:
        yield made


@needs_broker
def test_a_trip_a_finish_and_a_weigh_in_reach_broker_and_telephone(scene: Scene) -> None:
    scene.begin(SHORT, Piece(name="by-hand", green_g=900.0))
    until(lambda: any(t.startswith("Weigh by-hand") for t in scene.rings.texts), within_s=20.0, what="the weigh-in")
    scene.daemon._loop.tell(Notice("keeper-lost", 3.0, "died"))
    until(
        lambda: any("holds the switches died" in t for t in scene.rings.texts),
        within_s=10.0,
        what="the trip",
    )
    until(lambda: any("cap of 0.025 h" in t for t in scene.rings.texts), within_s=20.0, what="the end")
    until(
        lambda: {"weigh-in-due", "trip", "run-stopped"} <= {e["kind"] for e in scene.events()},
        within_s=10.0,
        what="the broker has all three",
    )
    for event in scene.events():
        assert event["chamber"] == "twin-dryer"
        assert event["severity"] in ("log", "notice", "warning", "alarm", "trip")
    numbers = [int(e["id"].rpartition("-")[2]) for e in scene.events()]
    assert numbers == sorted(set(numbers))
    trip = next(m for m in scene.rings.got if m["title"] == "twin-dryer: TRIP")
    assert len(trip["message"].splitlines()) == 4  # what happened, what it means, what to do, when
    assert "S3CRET" not in json.dumps(scene.heard.heard)


@needs_broker
def test_the_daily_summary_reaches_broker_and_telephone(scene: Scene) -> None:
    scene.begin(LONG, Piece(name="by-hand", green_g=900.0))
    (job,) = [j for j in scene.daemon._jobs._scheduler.get_jobs() if j.id == "day"]
    job.func()
    until(lambda: any("run r1: step warm" in t for t in scene.rings.texts), within_s=10.0, what="the telephone")
    text = next(t for t in scene.rings.texts if "run r1: step warm" in t)
    assert "by-hand: " in text
    assert "Next: " in text
    until(lambda: any(e["kind"] == "daily-summary" for e in scene.events()), within_s=10.0, what="the broker")
    told = next(e for e in scene.events() if e["kind"] == "daily-summary")
    assert (told["run"], told["severity"]) == ("r1", "notice")
    assert told["advice"].startswith("Next: ")


@needs_broker
def test_without_an_hour_for_it_there_is_no_summary(tmp_path: Path) -> None:
    with scene_of(tmp_path, alerts='summary_at = ""') as scene:
        assert not [j for j in scene.daemon._jobs._scheduler.get_jobs() if j.id == "day"]


@needs_broker
def test_a_request_from_afar_is_carried_out_recorded_and_answered(scene: Scene, tmp_path: Path) -> None:
    scene.begin(LONG, Piece(name="a", green_g=900.0))
    until(lambda: scene.heard.below("twin-dryer").get("program/run-id") == "r1", within_s=10.0, what="the run is shown")
    for verb, more in (
        ("weigh", {"piece": "a", "weight_g": 800.0}),
        ("start", {"program": {"name": "x"}}),
        ("stop", {"reason": "enough"}),
    ):
        before = len(scene.answers())
        scene.heard.send(f"homie/5/twin-dryer/request/{verb}/set", json.dumps(request("r1", **more)))
        until(lambda: len(scene.answers()) > before, within_s=15.0, what=verb)  # noqa: B023
    assert [a["accepted"] for a in scene.answers()] == [True, False, True]
    assert "800 g" in scene.answers()[0]["text"]
    until(lambda: scene.heard.below("twin-dryer").get("program/phase") == "stopped", within_s=10.0, what="stopped")
    until(
        lambda: any(e["kind"] == "request-refused" for e in scene.events()),
        within_s=10.0,
        what="the refusal is an event",
    )
    assert scene.daemon._writer.flush()
    kinds = [event.kind for _, _, event in missed_events(tmp_path / "record.db", -1)]
    assert {"asked-weigh", "request-refused", "asked-stop"} <= set(kinds)
    texts = [event.text for _, _, event in missed_events(tmp_path / "record.db", -1) if event.kind == "asked-weigh"]
    assert texts[0].startswith("Ines (broker): a weighs 800 g")


@needs_broker
def test_nothing_that_is_sent_gives_heat(tmp_path: Path) -> None:
    """The whole way: broker, door, socket's judgement, engine; a chamber that stands idle with a batch loaded."""
    with scene_of(tmp_path) as scene:
        pending = scene.daemon._post(
            Request(request_id="b0", ask=Load(pieces=(Piece(name="a", green_g=900.0),)), who="Ines")
        )
        assert pending.done.wait(10.0)
        heated: list[frozenset[str]] = []
        real = scene.daemon._after_turn

        def watch(tick: int, inputs: Any, commands: Any, state: Any) -> None:
            heated.append(commands.on)
            real(tick, inputs, commands, state)

        scene.daemon._loop._after_turn = watch

        @settings(max_examples=60, suppress_health_check=[HealthCheck.too_slow])
        @given(
            verb=st.sampled_from(["start", "resume", "reset", "load", "stop", "hold", "ack", "weigh", "pull"]),
            message=near,
        )
        def throw(verb: str, message: dict[str, Any]) -> None:
            whole = request("") | message | {"run": ""}
            scene.heard.client.publish(f"homie/5/twin-dryer/request/{verb}/set", json.dumps(whole), 1)
            scene.heard.client.publish(f"homie/5/twin-dryer/{verb}/set", json.dumps(message), 1)

        throw()
        began = len(heated)
        until(lambda: len(heated) > began + 40, within_s=15.0, what="it turns on")
        assert not any("heater" in on for on in heated)
        assert scene.daemon._loop.view.state.run.phase == "idle"
        scene.heard.send("homie/5/twin-dryer/request/ack/set", json.dumps(request("")))
        until(
            lambda: scene.answers() and "nothing to acknowledge" in scene.answers()[-1]["text"],
            within_s=15.0,
            what="it still answers",
        )


@needs_broker
def test_with_the_owners_word_a_run_can_be_started_from_afar_by_the_rules_of_the_files(tmp_path: Path) -> None:
    steps = [{"name": "warm", "air_c": 40.0, "ends": {"own_target": True}}]
    with scene_of(tmp_path, 'requests = ["load", "start"]') as scene:
        asks: tuple[tuple[str, dict[str, Any], bool, str], ...] = (
            ("load", {"pieces": [{"name": "a", "green_g": 0.9}]}, False, "looks like kg"),
            ("load", {"pieces": [{"name": "a", "green_g": 900.0}]}, True, "1 pieces loaded"),
            (
                "start",
                {"program": {"name": "hot", "cap_h": 5.0, "steps": [steps[0] | {"air_c": 119.0}]}},
                False,
                "max_air_c",
            ),
            ("start", {"program": {"name": "warm", "cap_h": 5.0, "steps": steps}}, True, "has begun"),
            ("stop", {}, False, "may not be asked for"),
        )
        for verb, more, accepted, said in asks:
            before = len(scene.answers())
            scene.heard.send(f"homie/5/twin-dryer/request/{verb}/set", json.dumps(request("") | more))
            until(lambda: len(scene.answers()) > before, within_s=15.0, what=verb)  # noqa: B023
            assert (scene.answers()[-1]["accepted"], said in scene.answers()[-1]["text"]) == (accepted, True), (
                scene.answers()[-1]
            )
        until(lambda: scene.daemon._loop.view.state.run.phase == "running", within_s=10.0, what="it runs")


def test_what_was_recorded_and_never_reached_the_outbox_is_told_after_a_power_cut(tmp_path: Path) -> None:
    path = write_twin(tmp_path)
    path.write_text(path.read_text() + '\n[mqtt]\nhost = "127.0.0.1"\nport = 1\ntls = false\n')
    box = Outbox(tmp_path / "record.outbox.db", [BROKER])
    box.put([Draft(BROKER, "log", "{}")], tick=2)
    box.close()
    writer = RecordWriter(tmp_path / "record.db", session(), threaded=False)
    for tick, ago_s in ((1, 0.0), (2, 0.0), (3, 60.0 * 3600.0), (4, 60.0)):
        event = Event(kind="trip", severity="trip", text=f"at {tick}")
        moment = Stamp(utc_s=time() - ago_s)
        writer.put(tick, moment, NOTHING, Commands(events=(event,), keep=True), None)
    writer.close()
    bench = Bench.of()
    view = View(9, bench.state, Stamp(utc_s=time()), frozenset())
    said = [(tick, time(), Event(kind="trip", severity="trip", text=f"said at {tick}")) for tick in (2, 4, 5)]
    made = open_outward(
        read_settings(path), view=lambda: view, status=dict, glance=dict, answer=dict, tell=print, said=said
    )
    assert made is not None
    made.close()
    again = Outbox(tmp_path / "record.outbox.db", [BROKER])
    texts = [json.loads(x.draft.body).get("text") for x in again.take(BROKER, most=99)]
    again.close()
    assert texts == [None, "at 4", "said at 5"]  # the one of three days ago is history


def test_a_death_before_the_first_commit_after_the_copy_of_the_state_loses_no_event(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Record and outbox are written by threads, moments after the copy: here they get nothing any more, as at a kill."""
    path = write_twin(tmp_path)
    path.write_text(path.read_text() + '\n[mqtt]\nhost = "127.0.0.1"\nport = 1\ntls = false\n')
    daemon = Daemon(read_settings(path), speed=20.0)
    with turning(daemon):
        for number, ask in enumerate(
            (Load(pieces=(Piece(name="a", green_g=900.0),)), Start(program=LONG, run_id="r1"))
        ):
            pending = daemon._post(Request(request_id=f"b{number}", ask=ask, who="Ines"))
            assert pending.done.wait(10.0)
            tick = daemon._loop.view.tick
            until(lambda: daemon._loop.view.tick > tick + 2, within_s=10.0, what="a turn more")  # noqa: B023
            monkeypatch.setattr(daemon._writer, "put", lambda *_, **__: None)
            monkeypatch.setattr(daemon._outward, "after_turn", lambda events: None)
    again = Daemon(read_settings(path), speed=20.0)
    try:
        assert again._outward is not None
        assert again._outward._outbox.flush()
        letters = again._outward._outbox.take(BROKER, most=99)
    finally:
        again.stop()
        again.turn_until_stopped()
    told = [json.loads(letter.draft.body)["kind"] for letter in letters]
    assert told.index("asked-load") < told.index("asked-start")
    assert len(told) == len(set(told))


def test_a_chamber_that_names_nothing_opens_nothing(tmp_path: Path) -> None:
    assert open_outward(read_settings(write_twin(tmp_path))) is None
    assert not list(tmp_path.glob("*.outbox.db"))


def test_addresses_that_cannot_be_read_do_not_stop_the_drying(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    path = write_twin(tmp_path)
    path.write_text(path.read_text() + '\n[alerts]\nto = "missing"\n')
    daemon = Daemon(read_settings(path), speed=20.0)
    with turning(daemon):
        until(lambda: daemon._loop.view.tick > 5, within_s=10.0, what="it turns")
    assert "nobody can be called" in caplog.text


def test_a_batch_or_program_that_was_sent_is_judged_like_its_file(tmp_path: Path) -> None:
    settings_read = read_settings(write_twin(tmp_path))
    assert "looks like kg" in unsuitable({"verb": "load", "pieces": [{"name": "a", "green_g": 0.9}]}, settings_read)
    assert unsuitable({"verb": "load", "pieces": [{"name": "a", "green_g": 900}]}, settings_read) == ""
    assert unsuitable({"verb": "start", "program": "hot"}, settings_read)
    assert unsuitable({"verb": "stop"}, settings_read) == ""
