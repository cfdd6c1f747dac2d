"""The ``$description`` of Homie 5: which nodes and properties a chamber has now."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any

from dryward.doors.mqtt.asks import VERBS
from dryward.doors.mqtt.table import Property, parts

BASE = "homie/5"
KIND = "dryward-chamber"
Schema = dict[str, Any]


def description(snapshot: Mapping[str, Any], rights: Collection[str], *, version: int) -> Schema:
    """Return the ``$description`` of a chamber as it is now."""
    nodes: Schema = {}
    for node, topic_id, values in parts(snapshot):
        name = f"{node.words} ({values['name']})" if node.many else node.words
        nodes[topic_id] = {"name": name, "properties": {p.id: _property(p) for p in node.properties}}
    asked = {
        verb: {"name": f"Ask: {verb}", "datatype": "json", "settable": True, "retained": False}
        for verb in VERBS
        if verb in rights
    }
    nodes["request"] = {
        "name": "Requests, each with id, run, expires and who",
        "properties": {**asked, "answer": {"name": "Answers to requests", "datatype": "json", "retained": False}},
    }
    event = {"name": "Everything that happens, in order, from an outbox", "datatype": "json", "retained": False}
    nodes["events"] = {"name": "Events", "properties": {"event": event}}
    return {
        "homie": "5.0",
        "version": version,
        "name": snapshot["chamber"],
        "type": KIND,
        "nodes": nodes,
        "extensions": [],
    }


def _property(prop: Property) -> Schema:
    made: Schema = {"name": prop.words, "datatype": prop.datatype}
    if prop.unit:
        made["unit"] = prop.unit
    if prop.choices:
        made["format"] = ",".join(prop.choices)
    return made
