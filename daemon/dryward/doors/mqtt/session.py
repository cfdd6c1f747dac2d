"""What happens on one connection: the chamber announces itself, shows its state, sends its letters, hears requests.

Order by Homie 5: ``$state`` init, ``$description``, every value, then ready. A batch with other pieces is another
description, so the same again.
"""

from __future__ import annotations

import json
import logging
from collections.abc import Mapping
from hashlib import blake2b
from time import monotonic, time
from typing import Any

from dryward.doors.mqtt.asks import Asked, TurnedAway, judge
from dryward.doors.mqtt.board import Board
from dryward.doors.mqtt.describe import description
from dryward.doors.mqtt.desk import Desk
from dryward.doors.mqtt.link import Link, Message
from dryward.doors.mqtt.payload import Watcher, text
from dryward.doors.mqtt.table import alerts
from dryward.record.outbox import Outbox

log = logging.getLogger("dryward")
LANE = "broker"
LEFTOVER_S = 1.0  # after so long without one, no topic from an earlier life is left
AGAIN_S = 1.0
AT_ONCE = 50  # changes told in one go
REFUSED_WAIT_S = 60.0
MOST_ANSWERED = 100  # retained requests; there is one a verb, unless somebody writes them without end


class Session:
    """One connection of one chamber. Used by one thread. ``snapshot`` is given anew with each tick."""

    def __init__(
        self,
        link: Link,
        *,
        base: str,
        refresh_s: float,
        outbox: Outbox,
        rights: frozenset[str],
        desk: Desk,
    ) -> None:
        self._link = link
        self._base = base
        self._board = Board(refresh_s)
        self._outbox = outbox
        self._rights = rights
        self._desk = desk
        self._state = "init"
        self._stated_s = 0.0
        self._contradicted = False
        self._watcher = Watcher()
        self._described = False
        self._alerts: dict[str, str] = {}
        self._run_id = ""
        self._after = 0  # the newest letter that was sent on this connection
        self._looked_to = 0  # no letter up to this one is left to send
        self._sent: dict[int, tuple[str, int]] = {}  # number of a message: its topic, or the letter it carries
        self._letters_from_s = 0.0
        self._refused_topics: set[str] = set()
        self._answered: set[tuple[str, bytes]] = set()  # retained requests that were turned away once
        self._scan_until = monotonic() + LEFTOVER_S
        self._say("init")
        link.subscribe(f"{base}/$state")
        link.subscribe(f"{base}/request/+/set")
        self._scan = link.subscribe(f"{base}/+/+")

    @property
    def described(self) -> bool:
        """Whether the broker has been told which nodes there are."""
        return self._described

    @property
    def ready(self) -> bool:
        """Whether the broker has been shown everything."""
        return self._state == "ready"

    def show(self, snapshot: Mapping[str, Any]) -> None:
        """Say what the chamber's topics should hold from now on."""
        self._run_id = snapshot["run"]["run_id"]
        changed, renewed = self._watcher.changes(snapshot)
        if renewed:
            self._described = True
            self._say("init")
            about = description(snapshot, self._rights, version=int(time()))
            self._retain("$description", json.dumps(about, ensure_ascii=False))
            self._board.keep_only({topic for topic, _, _ in changed})
        for topic, payload, every_s in changed:
            self._board.want(topic, payload, every_s)
        standing = {f"$alert/{key}": text(said) for key, said in alerts(snapshot).items()} if snapshot["alarms"] else {}
        if standing != self._alerts:
            for topic in {**self._alerts, **standing}:
                self._board.want(topic, standing.get(topic, ""))
            self._alerts = standing

    def glance(self, seen: Mapping[str, Any]) -> None:
        """The same for what changes from one second to the next; ``show`` must have come before."""
        self._run_id = seen["run"]["run_id"]
        for topic, payload, every_s in self._watcher.quick_changes(seen):
            self._board.want(topic, payload, every_s)

    def move(self) -> None:
        """Take what has come and send what may be sent; never more than the link has room for."""
        self._settle()
        while self._link.received:
            self._hear(self._link.received.popleft())
        while self._desk.answers and self._link.room:
            self._send("request/answer", json.dumps(self._desk.answers.popleft(), ensure_ascii=False), retain=False)
        if self._described:
            self._send_letters()
            if self._contradicted and monotonic() - self._stated_s > AGAIN_S:
                self._say(self._state)
            shown = self._show_changes()
            self._find_leftovers()
            if self._state == "init" and self._scan < 0 and self._link.room and not shown:
                self._say("ready")
        self._link.flush()

    def end(self) -> None:
        """Leave in order."""
        self._say("disconnected")
        self._link.hang_up()

    # ---- inside

    def _send_letters(self) -> None:
        newest = self._outbox.newest
        if newest <= self._looked_to or monotonic() < self._letters_from_s:
            return
        room = (self._link.room + 1) // 2  # the state needs room too
        letters = self._outbox.take(LANE, after=self._after, most=room)
        for letter in letters:
            named = f'{{"id": "{self._outbox.box}-{letter.seq}", {letter.draft.body[1:]}'
            self._send("events/event", named, retain=False, letter=letter.seq)
            self._after = letter.seq
        if len(letters) < room:
            self._looked_to = newest

    def _show_changes(self) -> int:
        """Tell what has changed. The whole state is told surely; later changes are replaced by the next one anyway."""
        sure = self._state != "ready"
        most = self._link.room if sure else AT_ONCE if self._link.clear else 0
        shown = self._board.next(most, monotonic())
        for topic, payload in shown:
            if sure or topic.startswith("$"):
                self._retain(topic, payload)
            else:
                self._link.publish(f"{self._base}/{topic}", payload, retain=True, sure=False)
        return len(shown)

    def _find_leftovers(self) -> None:
        """Stop looking for topics from an earlier life once none has come for a while."""
        if self._scan >= 0 and self._scan in self._link.subscribed and monotonic() > self._scan_until:
            self._link.unsubscribe(f"{self._base}/+/+")
            self._scan = -1

    def _say(self, state: str) -> None:
        self._state, self._stated_s, self._contradicted = state, monotonic(), False
        self._retain("$state", state)

    def _retain(self, topic: str, payload: str) -> None:
        self._send(topic, payload, retain=True)

    def _send(self, topic: str, payload: str, *, retain: bool, letter: int = 0) -> None:
        self._sent[self._link.publish(f"{self._base}/{topic}", payload, retain=retain)] = (topic, letter)

    def _settle(self) -> None:
        arrived: list[int] = []
        while self._link.acknowledged:
            mid, refused = self._link.acknowledged.popleft()
            topic, letter = self._sent.pop(mid, ("", 0))
            if not refused:
                arrived += [letter] if letter else []
                continue
            # It may take it later, when its owner has mended the access list: retained topics with the next refresh.
            if topic not in self._refused_topics:
                self._refused_topics.add(topic)
                log.warning("broker: it does not take %s/%s: %s", self._base, topic, refused)
            if letter:
                self._after = min(self._after, letter - 1)
                self._looked_to = 0
                self._letters_from_s = monotonic() + REFUSED_WAIT_S
        if arrived:
            self._outbox.done(LANE, arrived)

    def _hear(self, message: Message) -> None:
        below = message.topic.removeprefix(f"{self._base}/")
        if below == "$state":
            # The last will of a connection that died long ago may come late and call a living chamber lost.
            self._contradicted = message.payload != self._state.encode()
        elif below.startswith("request/") and below.endswith("/set"):
            self._asked(below.split("/")[1], message)
        elif message.retained and below.count("/") == 1 and message.payload:
            self._board.found(below)
            self._scan_until = monotonic() + LEFTOVER_S

    def _asked(self, verb: str, message: Message) -> None:
        if message.retained:
            digest = (verb, blake2b(message.payload).digest())
            if not message.payload or digest in self._answered:
                return
            if len(self._answered) >= MOST_ANSWERED:
                self._answered.clear()
            self._answered.add(digest)
        outcome = judge(
            verb,
            message.payload,
            retained=message.retained,
            rights=self._rights,
            run_id=self._run_id,
            seen=self._desk.seen,
            now_utc_s=time(),
        )
        if isinstance(outcome, Asked):
            if self._desk.hand_in(outcome):
                return
            outcome = TurnedAway("Too many requests wait already. Send it again in a minute.", outcome.id, outcome.who)
        self._desk.turn_away(verb, outcome)
