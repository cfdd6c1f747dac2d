"""What the broker has been shown and what it should be shown: retained topics, only on change, plus a slow refresh."""

from __future__ import annotations

from collections.abc import Collection
from math import inf

UNKNOWN = "\1"
"""Stands for a payload nobody here has sent: whatever should be there is shown again."""


class Board:
    """Topics with the payload each should hold; an empty one means that the topic should not be there.

    Times are seconds on any clock that only goes forward.
    """

    def __init__(self, refresh_s: float = inf) -> None:
        self._refresh_s = refresh_s
        self._refreshed_s = 0.0
        self._wanted: dict[str, str] = {}
        self._every_s: dict[str, float] = {}
        self._shown: dict[str, str] = {}
        self._told_s: dict[str, float] = {}
        self._differ: dict[
            str, None
        ] = {}  # topics whose payload may differ from what is shown, in the order they changed

    def want(self, topic: str, payload: str, every_s: float = 0.0) -> None:
        """Say what a topic should hold from now on, and how often at most a change of it is told."""
        self._wanted[topic] = payload
        if every_s:
            self._every_s[topic] = every_s
        if self._shown.get(topic, "") != payload:
            self._differ[topic] = None

    def keep_only(self, topics: Collection[str]) -> None:
        """Have every other topic cleared."""
        for topic in [t for t in self._wanted if t not in topics]:
            self.want(topic, "")

    def forget(self, now_s: float) -> None:
        """Begin anew: nothing is known of what the broker holds."""
        self._shown.clear()
        self._told_s.clear()
        self._refreshed_s = now_s
        self._wanted = {topic: payload for topic, payload in self._wanted.items() if payload}
        self._differ = dict.fromkeys(self._wanted)

    def found(self, topic: str) -> None:
        """Note that the broker holds something under a topic that was not sent from here."""
        self._shown[topic] = UNKNOWN
        self._wanted.setdefault(topic, "")
        self._differ[topic] = None

    def next(self, most: int, now_s: float) -> list[tuple[str, str]]:
        """Return up to ``most`` topics with the payload to send now; they count as shown."""
        if now_s - self._refreshed_s >= self._refresh_s:
            self.forget(now_s)
        found: list[tuple[str, str]] = []
        for topic in list(self._differ):
            if len(found) >= most:
                break
            payload = self._wanted[topic]
            if self._shown.get(topic, "") == payload:
                del self._differ[topic]
            elif not payload or now_s >= self._told_s.get(topic, -inf) + self._every_s.get(topic, 0.0):
                del self._differ[topic]
                self._shown[topic], self._told_s[topic] = payload, now_s
                found.append((topic, payload))
        return found
