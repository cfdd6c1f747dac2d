"""The real service killed at random moments, with nobody to hear it: when broker and telephone are there, both are told all of it."""

from __future__ import annotations

import json
import random
import threading
from contextlib import ExitStack
from pathlib import Path

from dryward.core.phases import ENDED
from dryward.doors.alerts import LOOK_EVERY_S
from tests.doors.mqtt_stand import Broker, free_port, listener, needs_broker
from tests.doors.phone import phone
from tests.doors.test_outward import tables
from tests.faults_live.stand import Service, Stand, until, write_chamber


@needs_broker
def test_killed_at_random_moments_trip_and_weighings_still_arrive(tmp_path: Path) -> None:
    """The telephone is dead and the broker away until after the last kill; then both get what happened, in order."""
    chance = random.Random(11)
    broker_port, phone_port = free_port(), free_port()
    with phone(phone_port) as rings:
        write_chamber(tmp_path, extra=tables(broker_port, tmp_path, rings))
    pause = threading.Event()
    with Stand(tmp_path) as stand:
        for kill in range(2):
            stand.forget_starts()
            service = stand.start_ready()
            if kill == 0:
                stand.begin()
                stand.trip(service)
            stand.wanted("weigh", piece="loin", weight_g=899.0 - kill, who="Ines")
            pause.wait(chance.random() * 0.3)
            service.process.kill()
            service.process.wait()
        with ExitStack() as stack:
            rings = stack.enter_context(phone(phone_port))
            served = Broker(tmp_path / "broker", port=broker_port)
            stack.callback(served.stop)
            heard = stack.enter_context(listener(broker_port))
            stand.forget_starts()
            stand.start_ready()

            def told(kind: str) -> list[str]:
                events = [json.loads(p) for p in heard.payloads("events/event")]
                return list(dict.fromkeys(e["text"] for e in events if e["kind"] == kind))

            until(
                lambda: len(told("asked-weigh")) == 2,
                within_s=20.0,
                what="both weighings, each acknowledged before a kill",
            )
            assert [text.split(" weighs ")[1][:5] for text in told("asked-weigh")] == ["899 g", "898 g"]
            assert any("holds the switches died" in text for text in told("trip"))
            until(
                lambda: any(m["title"] == "twin-dryer: TRIP" for m in rings.got),
                within_s=20.0,
                what="the trip on the telephone",
            )


@needs_broker
def test_killed_at_random_moments_weigh_in_reminder_and_finish_still_arrive(tmp_path: Path) -> None:
    """Twenty times as fast as real time; killed again and again from the start of the run to its end, then connected.

    Every other life is long enough for one look at what is due.
    """
    chance = random.Random(12)
    broker_port, phone_port = free_port(), free_port()
    with phone(phone_port) as rings:
        write_chamber(tmp_path, extra=tables(broker_port, tmp_path, rings))
    step = {"name": "warm", "air_c": 40.0, "ends": {"cap_h": 0.07}}
    pause = threading.Event()
    with Stand(tmp_path, args=("--speed", "20")) as stand, ExitStack() as stack:

        def start() -> Service:
            stand.forget_starts()
            return stand.start_ready()

        service, kills = start(), 0
        stand.wanted("load", pieces=[{"name": "by-hand", "green_g": 900.0}])
        stand.wanted("start", program={"name": "short", "cap_h": 5.0, "steps": [step]}, run_id="")
        while stand.status()["run"]["phase"] not in ENDED:
            pause.wait(chance.uniform(0.0, 1.0) + (kills % 2) * LOOK_EVERY_S)
            service.process.kill()
            service.process.wait()
            kills += 1
            assert kills < 20
            service = start()
        assert kills >= 2
        service.process.kill()
        service.process.wait()
        rings = stack.enter_context(phone(phone_port))
        served = Broker(tmp_path / "broker", port=broker_port)
        stack.callback(served.stop)
        heard = stack.enter_context(listener(broker_port))
        start()

        def kinds() -> set[str]:
            return {json.loads(p)["kind"] for p in heard.payloads("events/event")}

        until(lambda: {"weigh-in-due", "run-complete"} <= kinds(), within_s=20.0, what="both at the broker")
        until(
            lambda: all(any(word in text for text in rings.texts) for word in ("Weigh by-hand", "The run is complete")),
            within_s=30.0,
            what="both on the telephone",
        )
