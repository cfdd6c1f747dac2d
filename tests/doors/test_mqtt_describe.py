"""The ``$description`` is one of Homie 5, and names what really stands on the broker."""

from __future__ import annotations

import json
from typing import Any

from dryward.doors.mqtt.describe import KIND, description
from dryward.doors.mqtt.payload import Watcher
from tests.doors.test_mqtt_table import ID, running, seen

# Homie 5, "Device Attributes", "Node Attributes", "Property Attributes" and "Payloads": the fields and words it knows.
DEVICE = {"homie", "version", "nodes", "name", "type", "children", "root", "parent", "extensions"}
DATATYPES = {"integer", "float", "boolean", "string", "enum", "color", "datetime", "duration", "json"}


def described(rights: tuple[str, ...] = ("stop", "weigh")) -> dict[str, Any]:
    made: dict[str, Any] = json.loads(json.dumps(description(seen(running()), rights, version=7)))
    return made


def test_it_has_the_fields_of_homie_5_and_no_others() -> None:
    made = described()
    assert set(made) <= DEVICE
    assert made["homie"] == "5.0"
    assert made["version"] == 7
    assert (made["name"], made["type"]) == ("bench", KIND)
    for node_id, node in made["nodes"].items():
        assert ID.fullmatch(node_id)
        assert set(node) <= {"name", "type", "properties"}
        for prop_id, prop in node["properties"].items():
            assert ID.fullmatch(prop_id)
            assert set(prop) <= {"name", "datatype", "format", "settable", "retained", "unit"}
            assert prop["datatype"] in DATATYPES
            assert prop["datatype"] != "enum" or prop["format"]


def test_it_names_every_topic_there_is_and_no_other_retained_one() -> None:
    changed, _ = Watcher().changes(seen(running()))
    named = {
        f"{node_id}/{prop_id}"
        for node_id, node in described()["nodes"].items()
        for prop_id, prop in node["properties"].items()
        if prop.get("retained", True)
    }
    assert named == {topic for topic, _, _ in changed}


def test_only_what_may_be_asked_for_is_settable() -> None:
    made = described()["nodes"]["request"]["properties"]
    assert {key for key, prop in made.items() if prop.get("settable")} == {"stop", "weigh"}
    assert all(not prop["retained"] for prop in made.values())
