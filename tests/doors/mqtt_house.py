"""A chamber at a broker without its daemon: the engine's bench, an outbox, the door; turned by the test."""

from __future__ import annotations

import json
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from time import monotonic, time
from typing import Any

from dryward.core.commands import Reply
from dryward.core.inputs import Ask, Notice, Request
from dryward.core.program import Piece
from dryward.doors.mqtt.door import Mqtt
from dryward.doors.mqtt.session import LANE
from dryward.doors.socket_door import SocketDoor
from dryward.record.moments import Stamp
from dryward.record.outbox import Draft, Outbox
from dryward.service.loop import Pending, View
from dryward.service.snapshot import glance, snapshot
from dryward.settings import MqttSettings
from tests.core.bench_chamber import Bench, chamber


class House:
    """``requests`` are those that reached the engine. The socket's own judgement stands behind the broker's door.

    ``run``: pieces of a run at 40 degC that has begun before the door opens (none named: the bench's own), so that
    nothing else is ever told.
    """

    def __init__(
        self, folder: Path, settings: MqttSettings, *, name: str = "shed", run: tuple[Piece, ...] | None = None
    ) -> None:
        folder.mkdir(parents=True, exist_ok=True)
        self.bench = Bench.of(replace(chamber(), name=name))
        if run is not None:
            self.bench.begin(*run, air_c=40.0)
        self.notices: list[Notice] = []
        self.requests: list[Request] = []
        self.turn_s: list[float] = []
        self.said = 0
        self._counting = threading.Lock()
        self._enough = threading.Event()
        self._ticking: threading.Thread | None = None
        self.outbox = Outbox(folder / "outbox.db", [LANE], saved=lambda: self.mqtt.wake())
        self._socket = SocketDoor(
            folder / "s",
            group="",
            post=self._post,
            status=self.status,
            flush=lambda: True,
            plans=self,
            notes=self,
            name_run=lambda: "run-2",
        )
        self.mqtt = Mqtt(
            settings,
            chamber=name,
            outbox=self.outbox,
            status=self.status,
            glance=lambda: glance(self.bench.layout, self._view()),
            answer=self._socket.answer,
            tell=self.notices.append,
        )

    def status(self) -> dict[str, Any]:
        return snapshot(self.bench.layout, self._view()) | {"planned": []}

    def _view(self) -> View:
        return View(self.bench.tick, self.bench.state, Stamp(utc_s=time()), self.bench.last.on)

    def turn(self, air_c: float = 22.0, *, asks: list[Ask] | None = None, notices: list[Notice] | None = None) -> None:
        """One tick, and what the service does after it; its cost is kept.

        A tick that something happens in must come by here: the door looks at once only at those.
        """
        self.bench.turn(air_c, asks=asks or [], notices=notices or [])
        began = monotonic()
        self.outbox.put([Draft(LANE, e.severity, json.dumps({"text": e.text})) for e in self.bench.last.events])
        self.mqtt.turned(eventful=bool(self.bench.last.events))
        self.turn_s.append(monotonic() - began)

    def tick(self, every_s: float = 0.05) -> None:
        """Turn by itself from now on, as the loop does; each tick warms the air a little and is an event with its number."""
        self._ticking = threading.Thread(target=self._turns, args=(every_s,), name="ticks")
        self._ticking.start()

    def _turns(self, every_s: float) -> None:
        air_c = 40.0
        while not self._enough.wait(every_s):
            air_c = air_c + 0.1 if air_c < 70.0 else 40.0
            self.turn(air_c)
            self.count()

    def count(self) -> None:
        """Say the next number; whichever thread asks, the numbers go out in order."""
        with self._counting:
            self.said += 1
            self.say(str(self.said))

    def still(self) -> None:
        """Turn no more."""
        self._enough.set()
        if self._ticking is not None:
            self._ticking.join()

    def say(self, *texts: str) -> None:
        """Put events into the outbox as the loop would."""
        self.outbox.put([Draft(LANE, "notice", json.dumps({"text": text})) for text in texts])

    def close(self) -> None:
        self.still()
        self.mqtt.close()
        self._socket.close()
        self.outbox.close()

    def plan(self, **_: Any) -> str:
        return "planned"

    def drop(self, who: str) -> int:
        return 0

    def write(self, notes: Any) -> str:
        raise AssertionError("nothing that comes from afar writes notes")

    def _post(self, request: Request) -> Pending:
        self.requests.append(request)
        pending = Pending(
            request, reply=Reply(request_id=request.request_id, accepted=True, text=f"did {request.ask.verb}")
        )
        pending.done.set()
        return pending


def plain(port: int, **more: Any) -> MqttSettings:
    """Settings for a broker on this machine, without TLS."""
    return MqttSettings(host="127.0.0.1", port=port, tls=False, **more)


@contextmanager
def house(folder: Path, settings: MqttSettings, **more: Any) -> Iterator[House]:
    made = House(folder, settings, **more)
    made.mqtt.start()
    try:
        yield made
    finally:
        made.close()
