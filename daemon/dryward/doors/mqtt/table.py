"""The one table of properties: which part of a snapshot stands under which topic, as what, and how often at most.

From it come the payloads, the ``$description`` of Homie 5, the AsyncAPI document, the topic table in the docs and the
way back from topics to a snapshot. Homie 5: https://homieiot.github.io/specification/ (version 5.0).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Literal, get_args

from dryward.core.phases import Phase
from dryward.core.trust import Quality
from dryward.core.units import is_name
from dryward.core.weighing import Status

Datatype = Literal["float", "integer", "boolean", "string", "enum", "datetime", "json"]


@dataclass(frozen=True, slots=True)
class Property:
    """One topic of a node. ``key``: where its value stands in the node's part of a snapshot.

    ``digits``: those a float has after its point; ``factor``: what it is multiplied by; a change is told at most each ``every_s``.
    """

    id: str
    key: str
    datatype: Datatype
    words: str
    unit: str = ""
    digits: int = 1
    factor: float = 1.0
    choices: tuple[str, ...] = ()
    every_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Node:
    """Topics that belong together. ``many``: one such node for each sensor, output or piece, its name after the id."""

    id: str
    words: str
    properties: tuple[Property, ...]
    many: bool = False


def _hours(id: str, key: str, words: str) -> Property:
    return Property(id, key, "float", words, "h", 2, every_s=60.0)


def _celsius(id: str, key: str, words: str) -> Property:
    return Property(id, key, "float", words, "°C")


NODES: tuple[Node, ...] = (
    Node(
        "chamber",
        "The chamber as a whole",
        (
            Property("next", "next", "string", "What the owner has to do next"),
            Property("come-back", "come_back", "json", "The next opening that is planned: one entry, or none"),
            Property("utc", "utc", "datetime", "When this was known", every_s=60.0),
            Property(
                "clock-s",
                "chamber_s",
                "integer",
                "The chamber's own clock, on which every ...-s stands",
                "s",
                every_s=60.0,
            ),
            Property("no-heat", "no_heat", "string", "Why no heat may be given now; empty when it may"),
            Property("duty-pct", "duty", "float", "Share of full heat that is given", "%", 0, 100.0, every_s=10.0),
            Property(
                "energy-kwh",
                "energy_kwh",
                "float",
                "Energy since the run began, by rating plates",
                "kWh",
                2,
                every_s=60.0,
            ),
            Property("planned", "planned", "json", "Starts planned for later"),
            Property(
                "facts", "meat", "json", "What is known of the meat, each sentence with what it stands on", every_s=60.0
            ),
        ),
    ),
    Node(
        "program",
        "The run and its place in the program",
        (
            Property("phase", "phase", "enum", "State of the run (ISA-88)", choices=get_args(Phase)),
            Property("run-id", "run_id", "string", "Name of the run; requests must carry it"),
            Property("name", "program", "string", "Program"),
            Property("why", "why", "string", "Why the run is held or has ended"),
            Property("step", "step", "string", "Step in force"),
            Property("step-number", "step_number", "integer", "Its number, from 1"),
            Property("steps", "steps", "integer", "Number of steps"),
            Property("keeping-warm", "keeping_warm", "boolean", "Drying is over, the air is kept warm"),
            _hours("step-h", "step_h", "Time in this step"),
            _hours("dwell-h", "dwell_h", "Of which inside the band"),
            Property("dwell-wanted-h", "dwell_wanted_h", "float", "Time inside the band that the step wants", "h", 2),
            Property("in-band", "in_band", "boolean", "The air is inside the step's band"),
            _hours("elapsed-h", "elapsed_h", "Time since the run began"),
        ),
    ),
    Node(
        "air",
        "The chamber's air",
        (
            _celsius("air-c", "air_c", "Temperature of the air"),
            Property("quality", "quality", "enum", "Whether that reading can be trusted", choices=get_args(Quality)),
            _celsius("target-c", "target_c", "Temperature the program wants"),
            _celsius("setpoint-c", "setpoint_c", "Temperature held now (on a ramp it moves)"),
            Property("rh-pct", "rh_pct", "float", "Relative humidity", "%", every_s=10.0),
        ),
    ),
    Node(
        "sensor",
        "A sensor",
        (
            Property("name", "name", "string", "Its name in the chamber file"),
            Property("role", "role", "string", "What it is for; temperatures in °C, humidity in %, contacts 1 or 0"),
            Property("value", "value", "float", "Last good value", every_s=10.0),
            Property("quality", "quality", "enum", "Whether it can be trusted", choices=get_args(Quality)),
            Property("why", "why", "string", "Why not"),
        ),
        many=True,
    ),
    Node(
        "output",
        "A switched output",
        (
            Property("name", "name", "string", "Its name in the chamber file"),
            Property("on", "on", "boolean", "Really switched on"),
            Property(
                "operations", "operations", "integer", "Switching operations since the run began", "#", every_s=60.0
            ),
        ),
        many=True,
    ),
    Node(
        "piece",
        "A piece of meat",
        (
            Property("name", "name", "string", "Its name"),
            Property(
                "status",
                "status",
                "enum",
                "drying, done (its target is reached) or pulled (taken out)",
                choices=get_args(Status),
            ),
            Property("green-g", "green_g", "float", "Green weight", "g"),
            Property("target-g", "target_g", "float", "Weight at which it is done", "g", 2),
            Property(
                "target-loss-pct",
                "target_loss_pct",
                "float",
                "Loss at which it is done, of its own green weight",
                "%",
                2,
            ),
            Property("weight-g", "weight_g", "float", "Weight now", "g", every_s=30.0),
            Property("loss-pct", "loss_pct", "float", "Loss so far, of its own green weight", "%", every_s=30.0),
            Property(
                "weighed-s",
                "weighed_s",
                "integer",
                "When it was last weighed, on the chamber's clock",
                "s",
                every_s=60.0,
            ),
            Property("final-g", "final_g", "float", "Weight when it was done or taken out", "g", 2),
            Property("done-s", "done_s", "integer", "When it crossed its target, on the chamber's clock", "s"),
            Property("done-utc", "done_utc", "datetime", "The same by the wall clock", every_s=60.0),
            Property("finish-s", "finish_s", "integer", "When it will likely be done, on the chamber's clock", "s"),
            Property("finish-lo-s", "finish_lo_s", "integer", "Not earlier, nineteen times out of twenty", "s"),
            Property("finish-hi-s", "finish_hi_s", "integer", "Not later, nineteen times out of twenty", "s"),
            Property("finish-utc", "finish_utc", "datetime", "When it will likely be done", every_s=60.0),
            Property("finish-lo-utc", "finish_lo_utc", "datetime", "Not earlier than this", every_s=60.0),
            Property("finish-hi-utc", "finish_hi_utc", "datetime", "Not later than this", every_s=60.0),
            Property("finish-never", "finish_never", "boolean", "It will not be done with this program"),
            Property("forecast-s", "forecast_s", "integer", "When that was forecast, on the chamber's clock", "s"),
            Property("forecast-why", "forecast_why", "string", "Why there is no forecast"),
        ),
        many=True,
    ),
    Node(
        "alarms",
        "Alarms that are not normal (ISA-18.2)",
        (
            Property("count", "count", "integer", "How many", "#"),
            Property("trips", "trips", "integer", "How many of them have tripped", "#"),
            Property("list", "list", "json", "Each with what happened, what it means for the meat, what to do"),
        ),
    ),
    Node(
        "health",
        "How dryward itself is doing",
        (
            Property("record-ok", "ok", "boolean", "The record is being written"),
            Property("record-why", "why", "string", "Why not"),
            Property("record-waiting", "waiting", "integer", "Readings that wait to be written", "#", every_s=60.0),
            Property("record-lost", "lost", "integer", "Readings that could not be kept", "#"),
        ),
    ),
    Node(
        "messages",
        "How what is to be told is doing",
        (
            Property("ticking", "ticking", "boolean", "The loop decides; false: it hangs"),
            Property("waiting", "waiting", "integer", "Events and alerts that wait to be sent", "#", every_s=60.0),
            Property("lost", "lost", "integer", "Events and alerts that were given up", "#"),
            Property("version", "version", "string", "Version of dryward"),
        ),
    ),
)
BY_ID: Mapping[str, Node] = {node.id: node for node in NODES}
ALARM_KEYS = ("key", "subject", "phase", "trip", "since_s", "happened", "meaning", "advice", "acked_by")
STANDING = frozenset({"active", "active-acked", "latched", "latched-acked"})
"""Phases of an alarm whose trouble is still there, or which has tripped: it stands under ``$alert``."""


Part = tuple[Node, str, Mapping[str, Any]]
"""A node, its topic id, its values by key."""


def quick_parts(glance: Mapping[str, Any]) -> Iterator[Part]:
    """Yield the nodes that change from one second to the next."""
    yield BY_ID["program"], "program", glance["run"]
    yield BY_ID["air"], "air", glance["air"]
    yield from _each("output", [{"name": name, "on": on} for name, on in glance["outputs"].items()])


def parts(snapshot: Mapping[str, Any]) -> Iterator[Part]:
    """Yield every node of a snapshot."""
    operations = snapshot["operations"]
    outputs = [{"name": n, "on": on, "operations": operations.get(n)} for n, on in snapshot["outputs"].items()]
    alarms = snapshot["alarms"]
    listed = [{key: alarm[key] for key in ALARM_KEYS} for alarm in alarms]
    yield BY_ID["chamber"], "chamber", snapshot
    yield BY_ID["program"], "program", snapshot["run"]
    yield BY_ID["air"], "air", snapshot["air"]
    yield from _each("output", outputs)
    yield from _each("sensor", snapshot["sensors"])
    yield from _each("piece", snapshot["pieces"])
    yield BY_ID["alarms"], "alarms", {"count": len(alarms), "trips": sum(a["trip"] for a in alarms), "list": listed}
    yield BY_ID["health"], "health", snapshot["record"] or {}
    yield BY_ID["messages"], "messages", snapshot.get("messages", {})


def _each(node_id: str, items: Sequence[Mapping[str, Any]]) -> Iterator[Part]:
    ids = topic_ids(node_id, tuple([item["name"] for item in items]))
    for topic_id, values in zip(ids, items, strict=True):
        yield BY_ID[node_id], topic_id, values


@lru_cache(maxsize=64)
def topic_ids(prefix: str, names: tuple[str, ...]) -> tuple[str, ...]:
    """Return a topic id for each name, all different. Homie 5: a-z, 0-9 and hyphens, none at either end."""
    found: list[str] = []
    for name in names:
        plain = "".join(c if is_name(f"a{c}") else "-" for c in f"{prefix}-{name}".lower()).strip("-")
        number, made = 1, plain
        while made in found:
            number += 1
            made = f"{plain}-{number}"
        found.append(made)
    return tuple(found)


def alerts(snapshot: Mapping[str, Any]) -> dict[str, str]:
    """Return what stands under ``$alert``: a text for people by the id of its alarm."""
    standing = [a for a in snapshot["alarms"] if a["phase"] in STANDING]
    ids = topic_ids("", tuple([f"{a['key']}-{a['subject']}" for a in standing]))
    return {i: f"{a['happened']} {a['meaning']} {a['advice']}" for i, a in zip(ids, standing, strict=True)}
