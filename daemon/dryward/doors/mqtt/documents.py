"""The property table for people and machines: the AsyncAPI 3 document in config/ and the topic table in the docs.

Run ``python -m dryward.doors.mqtt.documents`` after a change of the table; a test compares what it writes.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator, Mapping
from pathlib import Path

from dryward import __version__
from dryward.doors.mqtt.asks import COMMON, ID, VERBS, Field
from dryward.doors.mqtt.describe import BASE, Schema
from dryward.doors.mqtt.table import ALARM_KEYS, NODES, Node, Property

BEGIN, END = "<!-- topics: begin (made by python -m dryward.doors.mqtt.documents) -->", "<!-- topics: end -->"
STATES = ("init", "ready", "disconnected", "lost")
EVENT: Mapping[str, tuple[str, str]] = {
    "id": (
        "string",
        "Name of the letter; it may come twice, then with the same id. The number after the last hyphen only rises.",
    ),
    "utc": ("string", "When it happened, by the wall clock."),
    "chamber": ("string", "Name of the chamber."),
    "run": ("string", "Name of the run; empty before the first."),
    "tick": ("integer", "Number of the decision, as in the record."),
    "kind": ("string", "A fixed word, such as trip, alarm, piece-done, run-complete, weigh-in-due, held-after-outage."),
    "subject": ("string", "What it happened to."),
    "severity": ("string", "log, notice, warning, alarm or trip."),
    "text": ("string", "What happened."),
    "meaning": ("string", "What it means for the meat; empty for mere log lines."),
    "advice": ("string", "What to do now; empty for mere log lines."),
    "value": ("number", "A figure that belongs to it."),
}
ANSWER: Mapping[str, tuple[str, str]] = {
    "id": ("string", "That of the request; empty when it had none."),
    "accepted": ("boolean", "Whether it was carried out."),
    "text": ("string", "What was done, or why not."),
    "utc": ("string", "When."),
}


def asyncapi() -> Schema:
    """Return the AsyncAPI 3.0.0 document of every topic."""
    channels: Schema = {}
    operations: Schema = {}
    messages: Schema = {}

    def channel(key: str, address: str, message: Schema, *, words: str, retained: bool, operation: Schema) -> None:
        messages[key] = message
        channels[key] = {
            "address": f"{BASE}/{{chamber}}/{address}",
            "description": words,
            "parameters": {name: {"description": what} for name, what in _parameters(address).items()},
            "messages": {key: {"$ref": f"#/components/messages/{key}"}},
        }
        operations[f"{'receive' if operation['action'] == 'receive' else 'send'}-{key}"] = {
            "channel": {"$ref": f"#/channels/{key}"},
            "summary": words,
            "bindings": {"mqtt": {"qos": 1, "retain": retained, "bindingVersion": "0.2.0"}},
        } | operation

    send: Schema = {"action": "send"}
    for key, address, message, words, retained in _sent():
        channel(key, address, message, words=words, retained=retained, operation=send)
    for verb, fields in VERBS.items():
        reply = {"channel": {"$ref": "#/channels/answer"}, "messages": [{"$ref": "#/channels/answer/messages/answer"}]}
        operation = {"action": "receive", "reply": reply}
        channel(
            f"request.{verb}",
            f"request/{verb}/set",
            _json(_request(fields)),
            words=f"Ask: {verb}",
            retained=False,
            operation=operation,
        )
    return _document(channels, operations, messages)


def _sent() -> Iterator[tuple[str, str, Schema, str, bool]]:
    """Yield what a chamber sends: key, address, message, words, whether it is retained."""
    states = _plain({"type": "string", "enum": list(STATES)})
    yield "state", "$state", states, "Whether the chamber is there; lost by the last will", True
    nodes = _json({"type": "object"})
    yield "description", "$description", nodes, "The nodes and properties there are (Homie 5)", True
    alert = "An alarm that stands: what happened, what it means, what to do. Cleared when it is over"
    yield "alert", "$alert/{alarm}", _plain({"type": "string"}), alert, True
    for node in NODES:
        for prop in node.properties:
            message = _json(_shape(prop)) if prop.datatype == "json" else _plain(_shape(prop))
            yield f"{node.id}.{prop.id}", f"{_address(node)}/{prop.id}", message, prop.words, True
    event = "Everything that happens, in order, at least once"
    yield "event", "events/event", _json(_object(EVENT)), event, False
    yield "answer", "request/answer", _json(_object(ANSWER)), "What came of a request", False


def _document(channels: Schema, operations: Schema, messages: Schema) -> Schema:
    return {
        "asyncapi": "3.0.0",
        "info": {
            "title": "A chamber of dryward on a message broker",
            "version": __version__,
            "description": "Topics of Homie 5. Retained values are plain text; a value that is not known has no topic, an empty text is one zero byte. "
            "Software is never the protection: the chamber needs its own thermal cut-out with manual reset.",
            "license": {"name": "MIT"},
        },
        "defaultContentType": "text/plain",
        "servers": {
            "broker": {
                "host": "{host}:8883",
                "protocol": "secure-mqtt",
                "protocolVersion": "5.0",
                "variables": {"host": {"description": "Name of the broker", "default": "localhost"}},
                "bindings": {
                    "mqtt": {
                        "lastWill": {
                            "topic": f"{BASE}/{{chamber}}/$state",
                            "qos": 1,
                            "message": "lost",
                            "retain": True,
                        },
                        "bindingVersion": "0.2.0",
                    }
                },
            }
        },
        "channels": channels,
        "operations": operations,
        "components": {"messages": messages},
    }


def _address(node: Node) -> str:
    return f"{node.id}-{{{node.id}}}" if node.many else node.id


def _parameters(address: str) -> Mapping[str, str]:
    known = {node.id: f"Name of the {node.id}" for node in NODES if node.many} | {
        "alarm": "Key of the alarm and what it is about"
    }
    return {"chamber": "Name of the chamber"} | {name: what for name, what in known.items() if f"{{{name}}}" in address}


def _plain(payload: Schema) -> Schema:
    return {"contentType": "text/plain", "payload": payload}


def _json(payload: Schema) -> Schema:
    return {"contentType": "application/json", "payload": payload}


def _shape(prop: Property) -> Schema:
    made: Schema = {
        "type": {"float": "number", "integer": "integer", "boolean": "boolean", "json": "array"}.get(
            prop.datatype, "string"
        )
    }
    if prop.choices:
        made["enum"] = list(prop.choices)
    if prop.datatype == "datetime":
        made["format"] = "date-time"
    if prop.key == "list":
        made["items"] = {"type": "object", "required": list(ALARM_KEYS)}
    if prop.unit:
        made["description"] = f"Unit: {prop.unit}"
    return made


def _object(fields: Mapping[str, tuple[str, str]]) -> Schema:
    properties = {
        key: {"type": kind if key != "value" else [kind, "null"], "description": words}
        for key, (kind, words) in fields.items()
    }
    return {"type": "object", "properties": properties, "required": list(fields)}


def _request(fields: Mapping[str, Field]) -> Schema:
    every = {**COMMON, **fields}
    properties: Schema = {key: {"type": field.type, "description": field.words} for key, field in every.items()}
    properties["id"]["pattern"] = f"^{ID}$"
    properties["expires"]["format"] = "date-time"
    needed = [key for key, field in every.items() if field.needed]
    return {"type": "object", "properties": properties, "required": needed, "additionalProperties": False}


# ---- the docs


def topic_table() -> str:
    """Return every topic as a Markdown table."""
    rows = [f"| topic below `{BASE}/CHAMBER/` | what | as | told at most |", "|---|---|---|---|"]
    rows.append(f"| `$state` | whether the chamber is there | one of: {', '.join(STATES)} | at once |")
    rows.append("| `$description` | the nodes and properties there are | JSON of Homie 5 | with each batch |")
    rows.append("| `$alert/ALARM` | an alarm that stands, for people | text | at once |")
    for node in NODES:
        for prop in node.properties:
            topic = f"{node.id}-{node.id.upper()}" if node.many else node.id
            kind = (
                f"one of: {', '.join(prop.choices)}"
                if prop.choices
                else prop.datatype + (f", {prop.unit}" if prop.unit else "")
            )
            pace = f"every {prop.every_s:g} s" if prop.every_s else "at once"
            rows.append(f"| `{topic}/{prop.id}` | {prop.words} | {kind} | {pace} |")
    rows.append("| `events/event` | everything that happens, in order, at least once; not retained | JSON | at once |")
    rows += [
        f"| `request/{verb}/set` | you ask: {verb} ({', '.join(f) or 'nothing more'}) | JSON | |"
        for verb, f in VERBS.items()
    ]
    rows.append("| `request/answer` | what came of a request; not retained | JSON | at once |")
    return "\n".join(rows)


def with_topics(page: str) -> str:
    """Return a page with the table between the two marks renewed."""
    before, _, rest = page.partition(BEGIN)
    _, _, after = rest.partition(END)
    return f"{before}{BEGIN}\n\n{topic_table()}\n\n{END}{after}"


def asyncapi_text() -> str:
    """Return the AsyncAPI document as it stands in config/."""
    return json.dumps(asyncapi(), indent=2, ensure_ascii=False) + "\n"


def main(folder: Path) -> None:
    """Write the document into ``folder`` (config/) and the table into the page beside this module."""
    (folder / "asyncapi.json").write_text(asyncapi_text(), encoding="utf-8")
    page = Path(__file__).with_name("README.md")
    if page.exists():
        page.write_text(with_topics(page.read_text(encoding="utf-8")), encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1] if len(sys.argv) > 1 else "config"))
