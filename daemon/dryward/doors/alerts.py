"""The door to people: what the rules say goes into the outbox, a thread carries it to the messengers, and again until it is there.

The same thread calls the watch service, if one is named, for as long as the loop turns: a Pi that has died calls nobody,
and that silence is the alert.
"""

from __future__ import annotations

import json
import logging
import threading
from collections.abc import Callable, Iterable
from contextlib import suppress
from datetime import datetime
from time import monotonic
from typing import Any
from urllib.error import URLError
from urllib.request import Request, urlopen

from dryward.core.commands import Event
from dryward.core.state import State
from dryward.doors.alerts_rules import Opening, Rules, Told, with_again
from dryward.doors.alerts_send import Sender, Target, names
from dryward.doors.alerts_text import body, title
from dryward.doors.secret import SecretError, secret_lines
from dryward.record.outbox import Draft, Outbox
from dryward.settings import AlertSettings

log = logging.getLogger("dryward")
LOOK_EVERY_S = 5.0
FIRST_WAIT_S, LONGEST_WAIT_S = 5.0, 300.0
HUNG_S = 30.0  # the watch service hears nothing while the loop does not turn
CALL_S = 10.0


class Alerts:
    """Alerts of one chamber. ``look`` returns the newest state; ``also`` is given what the rules themselves have to say.

    ``due`` returns the next opening, if one is planned.
    """

    def __init__(
        self,
        settings: AlertSettings,
        *,
        chamber: str,
        outbox: Outbox,
        who: tuple[Target, ...],
        look: Callable[[], State],
        also: Callable[[list[Event]], None] = lambda events: None,
        due: Callable[[], Opening | None] = lambda: None,
    ) -> None:
        self._settings = settings
        self._chamber = chamber
        self._outbox = outbox
        self._who = who
        self._look = look
        self._also = also
        self._due = due
        self._rules = Rules(settings)
        self._lock = threading.Lock()  # the rules are asked by the loop's thread and by this one
        self._sender = Sender()
        self._wait_s = {t.lane: 0.0 for t in who}
        self._next_s = {t.lane: 0.0 for t in who}
        self._failed: dict[str, str] = {}
        self._turned_s = monotonic()
        self._beat_s = -1e9
        self._beat_why = ""
        self._wake = threading.Event()
        self._closing = False
        self._thread = threading.Thread(target=self._run, name="alerts", daemon=True)

    def start(self) -> None:
        """Begin to send. Returns at once."""
        log.info("alerts go to: %s", names(self._who))
        self._thread.start()

    def heard(self, events: Iterable[Event], now: float, *, run_id: str, utc_s: float) -> list[Draft]:
        """Return the drafts of one tick's events. Called in the loop's thread: no waiting here."""
        moment = datetime.fromtimestamp(utc_s)
        with self._lock:
            told = self._rules.heard(events, moment, now)
        return self._drafts(told, moment, run_id)

    def turned(self) -> None:
        """Take note that the loop has turned."""
        self._turned_s = monotonic()

    def wake(self) -> None:
        """Let the thread look whether there is something to send."""
        self._wake.set()

    def close(self) -> None:
        """End; what has not been sent stays in the outbox."""
        self._closing = True
        self._wake.set()
        if self._thread.ident is not None:
            self._thread.join(5.0)

    # ---- the thread

    def _run(self) -> None:
        looked_s = monotonic()
        while not self._closing:
            try:
                if monotonic() - looked_s >= LOOK_EVERY_S:
                    looked_s = monotonic()
                    self._look_again()
                self._send_due()
                self._beat()
            except Exception:  # whatever it is, the next message must not be lost for it
                log.exception("alerts")
            self._wake.wait(1.0)
            self._wake.clear()

    def _look_again(self) -> None:
        state, due = self._look(), self._due()
        moment = datetime.now()
        with self._lock:
            told = self._rules.look(state, moment, state.now, due)
        self._outbox.put(self._drafts(told, moment, state.run.run_id))
        self._also([t.event for t in told if t.event.kind == "weigh-in-due"])

    def _drafts(self, told: Iterable[Told], moment: datetime, run_id: str) -> list[Draft]:
        drafts: list[Draft] = []
        for one in told:
            event = with_again(one)
            message = {"title": title(self._chamber, event.severity), "body": body(event, moment, run_id)}
            text = json.dumps(message, ensure_ascii=False)
            for target in self._who:
                if ("urgent" if target.urgent_only else "people") in one.reach:
                    drafts.append(Draft(target.lane, event.severity, text, one.due_utc_s))
        return drafts

    def _send_due(self) -> None:
        for target in self._who:
            while not self._closing and monotonic() >= self._next_s[target.lane]:
                letters = self._outbox.take(target.lane)
                if not letters:
                    break
                message: dict[str, Any] = json.loads(letters[0].draft.body)
                why = self._sender.send(
                    target, title=message["title"], body=message["body"], severity=letters[0].draft.severity
                )
                if why:
                    self._put_off(target, why)
                    break
                self._outbox.done(target.lane, [letters[0].seq])
                self._wait_s[target.lane] = 0.0
                if self._failed.pop(target.lane, ""):
                    log.info("alerts: %s takes messages again", target.name)

    def _put_off(self, target: Target, why: str) -> None:
        wait_s = min(LONGEST_WAIT_S, max(FIRST_WAIT_S, 2.0 * self._wait_s[target.lane]))
        self._wait_s[target.lane], self._next_s[target.lane] = wait_s, monotonic() + wait_s
        if self._failed.get(target.lane) != why:
            self._failed[target.lane] = why
            log.warning("alerts: %s: %s; it is tried again", target.name, why)

    def _beat(self) -> None:
        """Call the watch service while all is well. It calls people when it no longer hears from here."""
        now_s = monotonic()
        every_s = self._settings.heartbeat_min * 60.0
        if not self._settings.heartbeat_file or now_s - self._beat_s < (
            every_s if not self._beat_why else min(60.0, every_s)
        ):
            return
        if now_s - self._turned_s > HUNG_S:
            return
        self._beat_s = now_s
        why = _call(self._settings.heartbeat_file)
        if why and why != self._beat_why:
            log.warning("alerts: the watch service was not reached: %s", why)
        self._beat_why = why


def _call(named: str) -> str:
    """Call the watch service; return why it was not reached. The address is a secret."""
    try:
        lines = secret_lines(named)
        if not lines or not lines[0].startswith(("https://", "http://")):
            return "its file holds no address that begins with https://"
        with urlopen(Request(lines[0], headers={"User-Agent": "dryward"}), timeout=CALL_S):
            return ""
    except SecretError as error:
        return str(error)
    except URLError as error:
        return str(error.reason)
    except Exception as error:
        with suppress(Exception):
            return type(error).__name__
        return "unknown"
