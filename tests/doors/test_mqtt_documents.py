"""The AsyncAPI document and the topic table are what the code makes, and fit what a chamber really publishes.

The AsyncAPI project's own parser judges the document in CI: tests/doors/asyncapi.mjs.
"""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

from jsonschema import Draft7Validator

import dryward.doors.mqtt
from dryward.doors.mqtt.asks import VERBS
from dryward.doors.mqtt.documents import asyncapi, asyncapi_text, main, topic_table, with_topics
from dryward.doors.mqtt.payload import Watcher
from dryward.doors.mqtt.table import NODES
from tests.doors.test_mqtt_asks import message
from tests.doors.test_mqtt_table import running, seen

CONFIG = Path(__file__).parents[2] / "config"
PAGE = Path(dryward.doors.mqtt.__file__).with_name("README.md")


def test_the_document_in_config_is_the_one_the_code_makes() -> None:
    """When this fails: python -m dryward.doors.mqtt.documents."""
    assert (CONFIG / "asyncapi.json").read_text(encoding="utf-8") == asyncapi_text()


def test_the_topics_in_the_page_are_those_the_code_makes() -> None:
    """When this fails: python -m dryward.doors.mqtt.documents."""
    text = PAGE.read_text(encoding="utf-8")
    assert with_topics(text) == text


def test_every_property_and_request_has_its_row() -> None:
    rows = topic_table()
    for node in NODES:
        for prop in node.properties:
            assert f"/{prop.id}` | {prop.words} |" in rows
    for verb in VERBS:
        assert f"| `request/{verb}/set` |" in rows


def test_every_reference_in_the_document_leads_somewhere() -> None:
    document = asyncapi()

    def follow(node: Any) -> None:
        if isinstance(node, dict):
            if "$ref" in node:
                there: Any = document
                for part in node["$ref"].removeprefix("#/").split("/"):
                    there = there[part]
            for inner in node.values():
                follow(inner)
        elif isinstance(node, list):
            for inner in node:
                follow(inner)

    follow(document)
    assert document["asyncapi"] == "3.0.0"
    assert {o["action"] for o in document["operations"].values()} == {"send", "receive"}


def test_each_topic_of_a_running_chamber_is_one_channel_and_its_payload_fits() -> None:
    """The payload schemas are JSON Schema draft 7, which AsyncAPI 3 takes as its own; text is judged as the value it stands for."""
    document = asyncapi()
    channels = [
        (re.compile(re.sub(r"\{\w+\}", "[a-z0-9-]+", c["address"].replace("$", r"\$"))), key)
        for key, c in document["channels"].items()
    ]
    changed, _ = Watcher().changes(seen(running()))
    for topic, payload, _ in changed:
        if not payload:
            continue
        keys = [key for pattern, key in channels if pattern.fullmatch(f"homie/5/bench/{topic}")]
        assert len(keys) == 1, topic
        schema = document["components"]["messages"][keys[0]]["payload"]
        value = payload if schema["type"] == "string" else json.loads(payload)
        assert Draft7Validator(schema).is_valid(value), (topic, payload)


def test_a_request_in_order_fits_its_schema_and_a_spoilt_one_does_not() -> None:
    messages = asyncapi()["components"]["messages"]
    weigh = Draft7Validator(messages["request.weigh"]["payload"])
    assert weigh.is_valid(message(piece="a", weight_g=612.0))
    for spoilt in (
        message(piece="a"),
        message(piece="a", weight_g="612"),
        message(piece="a", weight_g=1.0, run_id="x"),
        message(piece="a", weight_g=1.0, id="short"),
    ):
        assert not weigh.is_valid(spoilt)
    for verb in VERBS:
        Draft7Validator.check_schema(messages[f"request.{verb}"]["payload"])


def test_writing_makes_the_document(tmp_path: Path) -> None:
    page = PAGE.read_text(encoding="utf-8")
    main(tmp_path)
    assert (tmp_path / "asyncapi.json").read_text(encoding="utf-8") == asyncapi_text()
    assert PAGE.read_text(encoding="utf-8") == page
