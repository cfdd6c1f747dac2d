"""Values as Homie 5 writes them, and back. What is not known has no topic; an empty text is one zero byte."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping
from datetime import datetime
from functools import cache
from itertools import repeat
from math import isfinite
from operator import itemgetter
from typing import Any

from dryward.doors.mqtt.table import ALARM_KEYS, BY_ID, Node, Part, Property, parts, quick_parts

EMPTY = "\0"
_NEVER = object()
LONGEST = 4000
"""Characters of a text: reasons and names come from people."""


def encode(prop: Property, value: Any) -> str | None:
    """Return the payload of a value, or None when there is none to tell."""
    if value is None:
        return None
    match prop.datatype:
        case "float":
            return _number(float(value) * prop.factor, prop.digits)
        case "integer":
            return str(round(value)) if isfinite(value) else None
        case "boolean":
            return "true" if value else "false"
        case "json":
            return json.dumps(value, ensure_ascii=False, separators=(",", ":"))
        case "enum":
            return value if value in prop.choices else None
        case _:
            return text(value)


def text(value: str) -> str:
    """Return a text as a payload: half surrogates written out, cut to what a message may hold."""
    return value.encode("utf-8", "backslashreplace").decode()[:LONGEST] or EMPTY


def decode(prop: Property, payload: str) -> Any:
    """Return the value of a payload. Raises ValueError when it is none of the property's."""
    match prop.datatype:
        case "float":
            return finite(payload) / prop.factor
        case "integer":
            return int(payload)
        case "boolean":
            if payload not in ("true", "false"):
                raise ValueError(f"{payload!r} is neither true nor false")
            return payload == "true"
        case "json":
            value = json.loads(payload, parse_float=finite, parse_constant=finite)
            if not isinstance(value, list):
                raise ValueError("not a list")
            return value
        case "datetime":
            if datetime.fromisoformat(payload).tzinfo is None:
                raise ValueError(f"{payload!r} has no zone")
            return payload
        case "enum":
            if payload not in prop.choices:
                raise ValueError(f"{payload!r} is none of {', '.join(prop.choices)}")
            return payload
        case _:
            return "" if payload == EMPTY else payload


def finite(payload: str) -> float:
    """Read a number. Raises ValueError when it is none, or endless."""
    value = float(payload)
    if not isfinite(value):
        raise ValueError(f"{payload!r} is no finite number")
    return value


Change = tuple[str, str, float]
"""A topic below the chamber, its new payload ('': there is none), and how often at most a change of it is told."""


class Watcher:
    """Finds what has changed from one look to the next; most of the time most nodes have not, and cost next to nothing."""

    def __init__(self) -> None:
        self._whole: dict[str, tuple[Any, ...]] = {}
        self._quick: dict[str, tuple[Any, ...]] = {}

    def changes(self, snapshot: Mapping[str, Any]) -> tuple[list[Change], bool]:
        """Return what has changed in a whole snapshot. True: there are other nodes, so everything is named anew."""
        found = list(parts(snapshot))
        ids = [topic_id for _, topic_id, _ in found]
        renewed = ids != list(self._whole)
        if renewed:
            self._whole = dict.fromkeys(ids, ())
        self._quick.clear()  # the next glance tells all it shows again: this look may have said otherwise since the last
        return _compared(found, self._whole, _every), renewed

    def quick_changes(self, glance: Mapping[str, Any]) -> list[Change]:
        """Return what has changed in a glance, of what is told at once."""
        return _compared(quick_parts(glance), self._quick, _at_once)


def rebuild(topics: Mapping[str, str]) -> dict[str, Any]:
    """Put a snapshot together again from topics below a chamber (``air/air-c``) and their payloads.

    What has no topic is None; topics that are not ours, and payloads that are none, are left out.
    """
    nodes: dict[str, dict[str, Any]] = {}
    for topic, payload in topics.items():
        node_id, _, prop_id = topic.partition("/")
        prop = _properties(_kind(node_id)).get(prop_id)
        if prop is None or not payload:
            continue
        try:
            nodes.setdefault(node_id, {})[prop.key] = decode(prop, payload)
        except (ValueError, RecursionError):
            continue

    def whole(node: Node, values: Mapping[str, Any]) -> dict[str, Any]:
        return {prop.key: values.get(prop.key) for prop in node.properties}

    def one(node_id: str) -> dict[str, Any]:
        return whole(BY_ID[node_id], nodes.get(node_id, {}))

    def each(node_id: str) -> list[dict[str, Any]]:
        return [
            whole(BY_ID[node_id], values) for i, values in nodes.items() if _kind(i) == node_id and values.get("name")
        ]

    chamber, outputs = one("chamber"), each("output")
    now_s = chamber["chamber_s"] or 0
    listed = [a for a in one("alarms")["list"] or [] if isinstance(a, dict) and a.keys() >= set(ALARM_KEYS)]
    return chamber | {
        "planned": chamber["planned"] or [],
        "meat": chamber["meat"] or [],
        "run": one("program"),
        "air": one("air"),
        "sensors": each("sensor"),
        "outputs": {o["name"]: bool(o["on"]) for o in outputs},
        "operations": {o["name"]: o["operations"] for o in outputs},
        "pieces": each("piece"),
        "alarms": [a | {"minutes": _minutes(now_s, a["since_s"])} for a in listed],
        "record": one("health") if "health" in nodes else None,
        "messages": one("messages"),
    }


def _minutes(now_s: float, since_s: object) -> float:
    return round(max(0.0, now_s - since_s) / 60.0, 1) if isinstance(since_s, int | float) else 0.0


def _number(value: float, digits: int) -> str | None:
    if not isfinite(value):
        return None
    written = f"{value:.{digits}f}"
    return written if written.strip("-0.") else written.removeprefix("-")


Choice = tuple[tuple[Property, ...], Callable[[Mapping[str, Any]], tuple[Any, ...]]]
"""Some properties of a node, and what takes their values out of its part of a snapshot."""


def _compared(found: Iterable[Part], last: dict[str, tuple[Any, ...]], choose: Callable[[str], Choice]) -> list[Change]:
    changed: list[Change] = []
    for node, topic_id, values in found:
        properties, take = choose(node.id)
        row = take(values)
        before = last.get(topic_id, ())
        if row == before:
            continue
        last[topic_id] = row
        for prop, value, old in zip(properties, row, before or repeat(_NEVER), strict=False):
            if value != old:
                changed.append((f"{topic_id}/{prop.id}", encode(prop, value) or "", prop.every_s))
    return changed


@cache
def _every(node_id: str) -> Choice:
    return _choice(BY_ID[node_id].properties)


@cache
def _at_once(node_id: str) -> Choice:
    return _choice(tuple(p for p in BY_ID[node_id].properties if not p.every_s))


def _choice(properties: tuple[Property, ...]) -> Choice:
    getter = itemgetter(*[prop.key for prop in properties])  # of one key it would be no tuple; every node has more

    def take(values: Mapping[str, Any]) -> tuple[Any, ...]:
        try:
            row: tuple[Any, ...] = getter(values)
        except KeyError:  # a part that is not there, such as the record's health in a rehearsal
            row = tuple([values.get(prop.key) for prop in properties])
        return row

    return properties, take


@cache
def _kind(node_id: str) -> str:
    if node_id in BY_ID and not BY_ID[node_id].many:
        return node_id
    kind = node_id.partition("-")[0]
    return kind if kind in BY_ID and BY_ID[kind].many else ""


@cache
def _properties(kind: str) -> Mapping[str, Property]:
    return {prop.id: prop for prop in BY_ID[kind].properties} if kind in BY_ID else {}
