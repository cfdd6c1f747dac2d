"""Where requests from afar are handed in: a thread carries them to the loop, one after the other, and brings the answer.

What is turned away is put on record and answered, up to a number a minute: nobody may fill the card by writing nonsense.
"""

from __future__ import annotations

import json
import logging
import threading
from collections import deque
from collections.abc import Callable
from contextlib import suppress
from queue import Full, Queue
from time import monotonic, time
from typing import Any

from dryward.core.inputs import Notice
from dryward.doors.mqtt.asks import Asked, TurnedAway
from dryward.record.moments import utc_text

log = logging.getLogger("dryward")
ORIGIN = "broker"
MOST_WAITING = 20
MOST_TURNED_AWAY = 20  # a minute
NONCES = 2000
Answer = Callable[[bytes, str, str], dict[str, Any]]


class Desk:
    """``answer`` judges a request as the socket does, ``tell`` hands a notice to the loop, ``check`` says why what was sent
    does not suit the chamber ('': it does), ``answered`` is called when an answer is there."""

    def __init__(
        self,
        *,
        answer: Answer,
        tell: Callable[[Notice], None],
        check: Callable[[dict[str, Any]], str],
        answered: Callable[[], None],
    ) -> None:
        self._answer, self._tell, self._check, self._answered = answer, tell, check, answered
        self.answers: deque[dict[str, Any]] = deque(maxlen=100)
        self.seen: set[str] = set()
        self._nonces: deque[str] = deque(maxlen=NONCES)
        self._waiting: Queue[Asked | None] = Queue(maxsize=MOST_WAITING)
        self._since_s = monotonic()
        self._turned_away = 0
        self._closing = False
        self._thread = threading.Thread(target=self._carry, name="broker-requests", daemon=True)
        self._thread.start()

    def hand_in(self, asked: Asked) -> bool:
        """Take a request that has passed the door; False: too many wait already."""
        try:
            self._waiting.put_nowait(asked)
        except Full:
            return False
        if len(self._nonces) == NONCES:
            self.seen.discard(self._nonces[0])
        self._nonces.append(asked.id)
        self.seen.add(asked.id)
        return True

    def turn_away(self, verb: str, away: TurnedAway) -> None:
        """Record and answer that a request goes no further, unless there have been too many in this minute."""
        now_s = monotonic()
        if now_s - self._since_s >= 60.0:
            self._since_s, self._turned_away = now_s, 0
        self._turned_away += 1
        if self._turned_away <= MOST_TURNED_AWAY:
            who = away.who or "Somebody"
            self._tell(
                Notice("request-refused", 0.0, f"{who} asked through the broker for {verb[:20]}; refused: {away.why}")
            )
            self._reply(away.id, accepted=False, text=away.why)

    def close(self, within_s: float = 3.0) -> None:
        """End after the request in hand."""
        self._closing = True
        with suppress(Full):
            self._waiting.put_nowait(None)
        self._thread.join(within_s)

    def _carry(self) -> None:
        while not self._closing:
            asked = self._waiting.get()
            if asked is None:
                return
            try:
                outcome = self._judged(asked)
            except Exception as error:  # nothing that was sent may end this thread
                log.exception("a request from the broker")
                outcome = {"accepted": False, "text": f"dryward stumbled over it: {type(error).__name__}."}
            self._reply(asked.id, accepted=bool(outcome["accepted"]), text=str(outcome.get("text", "")))

    def _judged(self, asked: Asked) -> dict[str, Any]:
        if why := self._check(asked.ask):
            return {"accepted": False, "text": why}
        # Its own name space: a nonce from afar must not look like the id of a planned start or of somebody's command.
        message = {"ask": asked.ask, "who": asked.who, "request_id": f"{ORIGIN}:{asked.id}"}
        return self._answer(json.dumps(message).encode(), asked.who, ORIGIN)

    def _reply(self, nonce: str, *, accepted: bool, text: str) -> None:
        self.answers.append({"id": nonce, "accepted": accepted, "text": text, "utc": utc_text(time())})
        self._answered()
