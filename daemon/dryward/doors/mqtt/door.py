"""The door to the message broker: a thread that holds the connection, another that carries requests to the loop.

The loop's thread only sets a flag. Everything else happens here, so that no broker, however slow, absent or mad, can
delay a decision. A connection that is lost is made again after half a second, then at ever longer times up to five
seconds; the chamber is told (F21) when nothing has been acknowledged for half a minute.
"""

from __future__ import annotations

import logging
import os
import threading
from collections.abc import Callable
from random import random
from secrets import token_hex
from time import monotonic
from typing import Any

from dryward import __version__
from dryward.core.inputs import Notice
from dryward.doors.mqtt.describe import BASE
from dryward.doors.mqtt.desk import Answer, Desk
from dryward.doors.mqtt.link import Link, LinkError
from dryward.doors.mqtt.session import Session
from dryward.doors.secret import SecretError
from dryward.record.outbox import Outbox
from dryward.settings import MqttSettings

log = logging.getLogger("dryward")
FIRST_WAIT_S, LONGEST_WAIT_S = 0.5, 5.0
SHOW_EVERY_S = 0.2
BUSY_WAIT_S, IDLE_WAIT_S = 0.2, 2.0  # a tick, an answer or a letter ends a wait at once
WHOLE_EVERY_S = 10.0
LOST_S = 30.0
HUNG_S = 10.0
SHORT_S = 20.0  # connections that end sooner, one after the other: another client has the same name and pushes us off
PUSHED_OFF = 3


class Mqtt:
    """One chamber at one broker. ``status`` makes a snapshot, ``glance`` the part that changes every second; the rest is what Desk needs."""

    def __init__(
        self,
        settings: MqttSettings,
        *,
        chamber: str,
        outbox: Outbox,
        status: Callable[[], dict[str, Any]],
        glance: Callable[[], dict[str, Any]],
        answer: Answer,
        tell: Callable[[Notice], None],
        check: Callable[[dict[str, Any]], str] = lambda ask: "",
    ) -> None:
        self._settings = settings
        self._name = f"dryward-{chamber}"
        self._base = f"{BASE}/{chamber}"
        self._outbox, self._status, self._glance, self._tell = outbox, status, glance, tell
        self._wake = os.eventfd(0, os.EFD_NONBLOCK | os.EFD_CLOEXEC)
        self._awake = threading.Lock()
        self._closing = threading.Event()
        self._desk = Desk(answer=answer, tell=tell, check=check, answered=self.wake)
        self._turned = True
        self._turned_s = self._well_s = monotonic()
        self._showed_s = 0.0
        self._whole_s = 0.0
        self._eventful = self._ticking = False
        self._told_lost = self._in = False
        self._tail = ""
        self._short = 0
        self._thread = threading.Thread(target=self._hold, name="broker", daemon=True)

    def start(self) -> None:
        """Begin to hold a connection. Returns at once, whether or not there is a broker."""
        self._thread.start()

    def turned(self, *, eventful: bool = False) -> None:
        """Take note that the loop has turned, and whether something has happened. Called in the loop's thread."""
        self._eventful = self._eventful or eventful
        self._turned, self._turned_s = True, monotonic()
        self.wake()

    def wake(self) -> None:
        """Let the thread look whether there is something to send."""
        with self._awake:
            if self._wake >= 0:
                os.eventfd_write(self._wake, 1)

    def close(self) -> None:
        """Say good-bye to the broker and end the threads; a broker that does not answer is left behind."""
        self._closing.set()
        self.wake()
        self._desk.close()
        if self._thread.ident is not None:
            self._thread.join(5.0)
        with self._awake:
            if self._wake >= 0 and not self._thread.is_alive():
                os.close(self._wake)
                self._wake = -1

    def _hold(self) -> None:
        wait_s = FIRST_WAIT_S
        said = ""
        while not self._closing.is_set():
            began_s = monotonic()
            try:
                why = self._connected()
            except (LinkError, SecretError) as error:
                why = str(error)
            except Exception as error:  # whatever it is, the chamber must not lose its voice for good
                log.exception("the connection to the broker")
                why = f"{type(error).__name__}: {error}"
            if self._closing.is_set():
                break
            if why != said:
                log.warning("broker: %s", why)
                said = why
            lasted_s = monotonic() - began_s
            self._count_short_ones(lasted_s)
            wait_s = FIRST_WAIT_S if lasted_s > SHORT_S else wait_s
            self._closing.wait(wait_s * (1.0 + 0.2 * random()))
            wait_s = min(LONGEST_WAIT_S, 2.0 * wait_s)
            self._watch()

    def _connected(self) -> str:
        """Hold one connection until it ends; return why it did. Raises LinkError, SecretError."""
        link = Link(
            self._settings, client_id=self._name + self._tail, will_topic=f"{self._base}/$state", wake=self._wake
        )
        try:
            link.open()
            self._in = True
            log.info("broker: connected to %s as %s", self._settings.host, self._name + self._tail)
            session = Session(
                link,
                base=self._base,
                refresh_s=self._settings.refresh_min * 60.0,
                outbox=self._outbox,
                rights=frozenset(self._settings.requests),
                desk=self._desk,
            )
            self._turned = True
            while not self._closing.is_set() and link.pump(BUSY_WAIT_S if not session.ready else IDLE_WAIT_S):
                self._show(session)
                session.move()
                if link.quiet:
                    self._well_s = monotonic()
                self._watch()
            if self._closing.is_set():
                session.end()
            return link.why
        finally:
            link.abandon()

    def _show(self, session: Session) -> None:
        """Show what the last tick has left: everything now and then and when something has happened, else a glance."""
        now_s = monotonic()
        ticking = now_s - self._turned_s < HUNG_S
        if now_s - self._showed_s < SHOW_EVERY_S or not (self._turned or not ticking):
            return
        other = self._eventful or ticking is not self._ticking or not session.described
        whole = other or not ticking or now_s - self._whole_s >= WHOLE_EVERY_S
        self._turned, self._showed_s = False, now_s
        if not whole:
            session.glance(self._glance())
            return
        self._eventful, self._ticking, self._whole_s = False, ticking, now_s
        waiting = self._outbox.waiting()
        about = {"ticking": ticking, "waiting": waiting.letters, "lost": waiting.dropped, "version": __version__}
        session.show(self._status() | {"messages": about})

    def _count_short_ones(self, lasted_s: float) -> None:
        was_in, self._in = self._in, False
        if not was_in:
            return
        self._short = self._short + 1 if lasted_s < SHORT_S else 0
        if self._short >= PUSHED_OFF:
            self._short, self._tail = 0, f"-{token_hex(3)}"
            log.warning(
                "broker: pushed off again and again. Is there another client called %s? Going on as %s%s",
                self._name,
                self._name,
                self._tail,
            )

    def _watch(self) -> None:
        """F21: tell the loop when the broker has not acknowledged for long, and when it does again."""
        lost = monotonic() - self._well_s > max(LOST_S, 2.0 * self._settings.keepalive_s)
        if lost is not self._told_lost:
            self._told_lost = lost
            self._tell(Notice("broker-lost" if lost else "broker-well"))
