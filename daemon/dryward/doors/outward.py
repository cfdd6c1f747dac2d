"""What goes beyond this machine: the message broker and the alerts, with the outbox both of them send from.

The service makes one of these, calls ``after_turn`` after each tick and ``close`` at the end, and knows nothing more.
"""

from __future__ import annotations

import json
import logging
from collections.abc import Callable, Sequence
from pathlib import Path
from time import time
from typing import TYPE_CHECKING, Any, Protocol

from dryward.core.commands import Event
from dryward.core.inputs import Notice
from dryward.core.state import State
from dryward.doors.secret import SecretError
from dryward.record.moments import Stamp, utc_seconds, utc_text
from dryward.record.outbox import Draft, Outbox, missed_events
from dryward.settings import Settings

if TYPE_CHECKING:
    from dryward.doors.alerts import Alerts
    from dryward.doors.alerts_rules import Opening
    from dryward.doors.alerts_send import Target
    from dryward.doors.mqtt.door import Mqtt

log = logging.getLogger("dryward")
BROKER = "broker"
LONGEST_TEXT = 2000
OLDEST_S = 48 * 3600.0
"""What happened longer ago and was never told is history, and stands in the record."""


class View(Protocol):
    """What the last tick left for others to look at."""

    @property
    def tick(self) -> int: ...

    @property
    def state(self) -> State: ...

    @property
    def stamp(self) -> Stamp: ...


class Outward:
    """Broker and alerts of one chamber, as far as its file names them.

    ``view`` is the loop's newest, ``status`` makes a snapshot, ``glance`` the part of it that changes every second, ``answer``
    is the socket's judgement of a request, ``tell`` hands the loop a notice, ``due`` returns the next opening that is planned,
    ``said`` is what the last life's ticks said at its end (tick, UTC s, event), told or not.
    """

    def __init__(
        self,
        settings: Settings,
        *,
        view: Callable[[], View],
        status: Callable[[], dict[str, Any]],
        glance: Callable[[], dict[str, Any]],
        answer: Callable[[bytes, str, str], dict[str, Any]],
        tell: Callable[[Notice], None],
        due: Callable[[], Opening | None] = lambda: None,
        said: Sequence[tuple[int, float, Event]] = (),
    ) -> None:
        self._chamber = settings.chamber.name
        self._view = view
        self._alerts: Alerts | None = None
        self._mqtt: Mqtt | None = None
        record = Path(settings.record.path)
        who, all_known = _who(settings)
        self._outbox = Outbox(
            record.with_name(f"{record.stem}.outbox.db"),
            [*([BROKER] if settings.mqtt.host else []), *(t.lane for t in who)],
            all_known=all_known,
            saved=self._saved,
        )
        if settings.alerts.to or settings.alerts.heartbeat_file:
            from dryward.doors.alerts import Alerts

            self._alerts = Alerts(
                settings.alerts,
                chamber=self._chamber,
                outbox=self._outbox,
                who=who,
                look=lambda: self._view().state,
                also=self._to_broker,
                due=due,
            )
        if settings.mqtt.host:
            from dryward.doors.mqtt.door import Mqtt

            self._mqtt = Mqtt(
                settings.mqtt,
                chamber=self._chamber,
                outbox=self._outbox,
                status=status,
                glance=glance,
                answer=answer,
                tell=tell,
                check=lambda ask: unsuitable(ask, settings),
            )
        self._take_up_missed(record, said)

    def start(self) -> None:
        """Begin to send. Returns at once, whatever the network does."""
        if self._alerts is not None:
            self._alerts.start()
        if self._mqtt is not None:
            self._mqtt.start()

    def after_turn(self, events: tuple[Event, ...]) -> None:
        """Take what the last tick said. Called in the loop's thread; never waits, never raises for what is outside."""
        if events:
            view = self._view()
            self._put(events, view.tick, utc_s=view.stamp.utc_s, now=view.state.now, run_id=view.state.run.run_id)
        if self._alerts is not None:
            self._alerts.turned()
        if self._mqtt is not None:
            self._mqtt.turned(eventful=bool(events))

    def say(self, event: Event) -> None:
        """Tell broker and people something that no tick has said. May be called in any thread; never waits."""
        view = self._view()
        self._put((event,), None, utc_s=time(), now=view.state.now, run_id=view.state.run.run_id)

    def close(self) -> None:
        """Say good-bye; what has not been sent waits in the outbox for the next start."""
        if self._mqtt is not None:
            self._mqtt.close()
        if self._alerts is not None:
            self._alerts.close()
        self._outbox.close()

    # ---- inside

    def _put(self, events: tuple[Event, ...], tick: int | None, *, utc_s: float, now: float, run_id: str) -> None:
        drafts = [
            Draft(BROKER, e.severity, self._letter(e, self._view().tick if tick is None else tick, utc_s, run_id))
            for e in events
        ]
        if self._alerts is not None:
            drafts += self._alerts.heard(events, now, run_id=run_id, utc_s=utc_s)
        self._outbox.put(drafts, tick=tick)

    def _to_broker(self, events: list[Event]) -> None:
        view = self._view()
        self._outbox.put(
            [Draft(BROKER, e.severity, self._letter(e, view.tick, time(), view.state.run.run_id)) for e in events]
        )

    def _letter(self, event: Event, tick: int, utc_s: float, run_id: str) -> str:
        return json.dumps(
            {
                "utc": utc_text(utc_s),
                "chamber": self._chamber,
                "run": run_id,
                "tick": tick,
                "kind": event.kind,
                "subject": event.subject,
                "severity": event.severity,
                "text": event.text[:LONGEST_TEXT],
                "meaning": event.meaning,
                "advice": event.advice,
                "value": event.value if event.value is not None and abs(event.value) < float("inf") else None,
            },
            ensure_ascii=False,
        )

    def _take_up_missed(self, record: Path, said: Sequence[tuple[int, float, Event]]) -> None:
        """Tell what was decided just before the end, and never reached the outbox: the record's, then what only ``said`` has."""
        last = self._outbox.last_tick
        if last is None:
            return
        state = self._view().state
        missed = [(tick, utc_seconds(utc), event) for tick, utc, event in missed_events(record, last)]
        recorded = max((tick for tick, *_ in missed), default=last)
        missed += [(tick, utc_s, event) for tick, utc_s, event in said if tick > recorded]
        for tick, utc_s, event in missed:
            if time() - utc_s < OLDEST_S:
                self._put((event,), tick, utc_s=utc_s, now=state.now, run_id=state.run.run_id)

    def _saved(self) -> None:
        for door in (self._mqtt, self._alerts):
            if door is not None:
                door.wake()


def _who(settings: Settings) -> tuple[tuple[Target, ...], bool]:
    """Return who is called, and whether that is everybody; drying goes on when it cannot be read."""
    if not settings.alerts.to:
        return (), True
    from dryward.doors.alerts_send import targets

    try:
        return targets(settings.alerts), True
    except SecretError as error:
        log.error("alerts: nobody can be called: %s", error)
        return (), False


def unsuitable(ask: dict[str, Any], settings: Settings) -> str:
    """Say why a batch or a program that was sent does not do ('': it does), by the rules for their files."""
    from dryward.settings import SettingsError, check_program_on_chamber, judge_pieces, judge_program

    try:
        if ask["verb"] == "load":
            judge_pieces({"pieces": ask["pieces"]}, settings.chamber, where="the request")
        if ask["verb"] == "start":
            table = ask["program"] if isinstance(ask["program"], dict) else {}
            check_program_on_chamber(judge_program(table, where="the request"), settings.chamber, where="the request")
    except SettingsError as error:
        return str(error)
    return ""


def open_outward(settings: Settings, **hands: Any) -> Outward | None:
    """Return what the chamber's file names beyond this machine, or None when it names nothing."""
    if not (settings.mqtt.host or settings.alerts.to or settings.alerts.heartbeat_file):
        return None
    return Outward(settings, **hands)
