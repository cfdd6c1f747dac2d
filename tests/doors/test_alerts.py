"""The alerts' thread: everything arrives in order, at every address by itself, and the watch service hears a living Pi."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from time import monotonic, time
from typing import Any

import pytest

from dryward.core.commands import Event
from dryward.core.inputs import Ack, Notice
from dryward.doors import alerts as module
from dryward.doors.alerts import Alerts
from dryward.doors.alerts_send import targets
from dryward.record.outbox import Outbox
from dryward.settings import AlertSettings
from tests.core.bench_chamber import Bench
from tests.doors.mqtt_keys import secret
from tests.doors.phone import Phone, phone
from tests.faults_live.stand import until


class House:
    """Alerts with an outbox, fed by the engine's bench."""

    def __init__(self, folder: Path, settings: AlertSettings, bench: Bench | None = None) -> None:
        self.bench = bench or Bench.of()
        who = targets(settings)
        self.outbox = Outbox(folder / "outbox.db", [t.lane for t in who], saved=lambda: self.alerts.wake())
        self.also: list[Event] = []
        self.alerts = Alerts(
            settings, chamber="shed", outbox=self.outbox, who=who, look=lambda: self.bench.state, also=self.also.extend
        )

    def say(self, *texts: str, severity: Any = "alarm") -> None:
        events = [Event(kind="x", severity=severity, text=text) for text in texts]
        self.outbox.put(self.alerts.heard(events, 0.0, run_id="r1", utc_s=time()))

    def close(self) -> None:
        self.alerts.close()
        self.outbox.close()


@contextmanager
def house(folder: Path, settings: AlertSettings, bench: Bench | None = None) -> Iterator[House]:
    folder.mkdir(exist_ok=True)
    made = House(folder, settings, bench)
    made.alerts.start()
    try:
        yield made
    finally:
        made.close()


@pytest.fixture(autouse=True)
def _quick(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "FIRST_WAIT_S", 0.2)
    monkeypatch.setattr(module, "LONGEST_WAIT_S", 0.4)
    monkeypatch.setattr(module, "LOOK_EVERY_S", 0.1)


@pytest.fixture
def rings() -> Iterator[Phone]:
    with phone() as made:
        yield made


def first_lines(rings: Phone) -> list[str]:
    return [text.split("\n")[0] for text in rings.texts]


def test_messages_arrive_in_order_and_leave_the_outbox(tmp_path: Path, rings: Phone) -> None:
    with house(tmp_path / "h", AlertSettings(to=secret(tmp_path / "to", rings.address))) as made:
        made.say("one", "two")
        made.say("three")
        until(lambda: len(rings.got) == 3, within_s=5.0, what="three messages")
        assert first_lines(rings) == ["one", "two", "three"]
        assert {m["title"] for m in rings.got} == {"shed: ALARM"}
        until(lambda: made.outbox.waiting().letters == 0, within_s=5.0, what="the outbox is empty")


def test_what_was_not_taken_comes_again_once_and_in_order_also_after_a_restart(
    tmp_path: Path, rings: Phone, caplog: pytest.LogCaptureFixture
) -> None:
    settings = AlertSettings(to=secret(tmp_path / "to", rings.address))
    rings.answer = 503
    with house(tmp_path / "h", settings) as made:
        made.say("one", "two")
        until(lambda: len(rings.called) >= 2, within_s=5.0, what="tried twice")
    with house(tmp_path / "h", settings) as made:
        made.say("three")
        rings.answer = 200
        until(lambda: len(rings.got) == 3, within_s=5.0, what="three messages")
        assert first_lines(rings) == ["one", "two", "three"]
    assert "1 json: the service did not take it" in caplog.text
    assert "S3CRET" not in caplog.text


def test_an_address_that_fails_does_not_hold_up_the_others(tmp_path: Path, rings: Phone) -> None:
    to = secret(tmp_path / "to", f"json://127.0.0.1:1/nobody\n{rings.address}")
    with house(tmp_path / "h", AlertSettings(to=to)) as made:
        made.say("one", "two", "three")
        until(lambda: len(rings.got) == 3, within_s=5.0, what="the good one has all")
        until(lambda: made.outbox.waiting().letters == 3, within_s=5.0, what="only those of the dead one wait")
    assert first_lines(rings) == ["one", "two", "three"]


def test_a_trip_is_said_again_and_raised_until_it_is_acknowledged(tmp_path: Path, rings: Phone) -> None:
    bench = Bench.of()
    bench.begin(air_c=40.0)
    bench.turn(40.0, notices=[Notice("keeper-lost", 3.0, "died")])
    settings = AlertSettings(to=secret(tmp_path / "to", rings.address), repeat_min=10.0, urgent_after_min=1000.0)
    with house(tmp_path / "h", settings, bench) as made:
        made.outbox.put(made.alerts.heard(bench.last.events, bench.now, run_id="r1", utc_s=time()))
        bench.turns(610, 40.0)
        until(lambda: any("nobody has acknowledged" in text for text in rings.texts), within_s=5.0, what="said again")
        trips = [m for m in rings.got if m["title"] == "shed: TRIP"]
        assert len(trips) == 2
        bench.ask(Ack(alarm="all"), 40.0)
        bench.turns(1300, 40.0)
        looks = monotonic()
        until(lambda: monotonic() - looks > 0.5, within_s=2.0, what="some more looks")
        assert len([m for m in rings.got if m["title"] == "shed: TRIP"]) == 2


def test_a_weigh_in_that_is_due_goes_to_people_and_to_the_broker(tmp_path: Path, rings: Phone) -> None:
    bench = Bench.of()
    bench.begin(air_c=40.0)
    bench.turns(100, 40.0)
    settings = AlertSettings(to=secret(tmp_path / "to", rings.address), weigh_every_h=90.0 / 3600.0)
    with house(tmp_path / "h", settings, bench) as made:
        until(lambda: any(text.startswith("Weigh a") for text in rings.texts), within_s=5.0, what="asked for")
        until(lambda: bool(made.also), within_s=5.0, what="the broker is given it too")
        assert [e.kind for e in made.also] == ["weigh-in-due"]


def test_the_watch_service_hears_while_the_loop_turns_and_not_when_it_hangs(
    tmp_path: Path, rings: Phone, monkeypatch: pytest.MonkeyPatch
) -> None:
    url = secret(tmp_path / "beat", f"http://127.0.0.1:{rings.port}/S3CRET")
    with house(tmp_path / "h", AlertSettings(heartbeat_file=url, heartbeat_min=0.005)) as made:
        made.alerts.turned()
        until(lambda: rings.called.count("/S3CRET") >= 2, within_s=5.0, what="two beats")
        monkeypatch.setattr(module, "HUNG_S", 0.1)
        began = monotonic()
        until(lambda: monotonic() - began > 0.3, within_s=2.0, what="the loop hangs")
        before = len(rings.called)
        until(lambda: monotonic() - began > 1.8, within_s=3.0, what="some more looks")
        assert len(rings.called) <= before + 1


@pytest.mark.parametrize(
    ("written", "said"), [("ftp://x", "no address that begins with https"), ("http://127.0.0.1:1/S3CRET", "refused")]
)
def test_a_watch_service_that_cannot_be_reached_is_told_once_without_its_address(
    tmp_path: Path, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch, written: str, said: str
) -> None:
    beat = secret(tmp_path / "beat", written)
    with house(tmp_path / "h", AlertSettings(heartbeat_file=beat, heartbeat_min=0.005)):
        until(lambda: said in caplog.text, within_s=5.0, what="told")
    assert "S3CRET" not in caplog.text
    assert caplog.text.count("watch service") == 1
