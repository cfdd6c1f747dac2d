"""Values become payloads of Homie 5 and come back; what has not changed is not written out again."""

from __future__ import annotations

import json
import math
import re
from datetime import datetime
from typing import Any, get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dryward.core.inputs import Notice, Weigh
from dryward.core.phases import Phase
from dryward.doors.mqtt.payload import Watcher, decode, encode, rebuild
from dryward.doors.mqtt.table import NODES, Property
from dryward.record.moments import Stamp
from dryward.service.loop import View
from dryward.service.snapshot import glance
from tests.core.bench_chamber import AIR, HUMIDITY, Bench, chamber, piece
from tests.doors.test_mqtt_table import running, seen

FLOAT = re.compile(r"-?\d+(\.\d+)?([eE]-?\d+)?")  # Homie 5, "Float": digits, -, one dot, exponent; no NaN, no Infinity
INTEGER = re.compile(r"-?\d+")


def topics(snapshot: dict[str, Any]) -> dict[str, str]:
    changed, _ = Watcher().changes(snapshot)
    return {topic: payload for topic, payload, _ in changed if payload}


@given(st.floats() | st.floats(-200, 200))
def test_a_float_is_one_of_homie_5_or_has_no_topic(value: float) -> None:
    prop = Property("x", "x", "float", "x", digits=1)
    payload = encode(prop, value)
    if not math.isfinite(value):
        assert payload is None
        return
    assert payload is not None
    assert FLOAT.fullmatch(payload)
    assert payload != "-0.0"
    if abs(value) < 1e12:
        assert decode(prop, payload) == pytest.approx(value, abs=0.0501)


@pytest.mark.parametrize(
    ("prop", "value", "payload"),
    [
        (Property("x", "x", "float", "", digits=1), 79.96, "80.0"),
        (Property("x", "x", "float", "", digits=1), -0.04, "0.0"),
        (Property("x", "x", "float", "", digits=2), 588.25, "588.25"),
        (Property("x", "x", "float", "", digits=0, factor=100.0), 0.527, "53"),
        (Property("x", "x", "integer", ""), 39991.0, "39991"),
        (Property("x", "x", "boolean", ""), True, "true"),
        (Property("x", "x", "boolean", ""), False, "false"),
        (Property("x", "x", "string", ""), "", "\0"),  # Homie 5, "Empty string values": one zero byte
        (Property("x", "x", "string", ""), "späck", "späck"),
        (Property("x", "x", "enum", "", choices=get_args(Phase)), "running", "running"),
        (Property("x", "x", "enum", "", choices=get_args(Phase)), "dancing", None),
        (Property("x", "x", "json", ""), ["a", 1], '["a",1]'),
        (Property("x", "x", "float", ""), None, None),
    ],
)
def test_payloads_are_written_as_homie_5_has_them(prop: Property, value: object, payload: str | None) -> None:
    assert encode(prop, value) == payload


@given(st.text(max_size=5000))
def test_a_text_of_people_always_fits_a_message(said: str) -> None:
    payload = encode(Property("x", "x", "string", ""), said)
    assert payload is not None
    assert 0 < len(payload.encode()) <= 20_000


def test_every_payload_of_a_run_is_valid_by_its_datatype() -> None:
    bench = Bench.of(chamber(sensors=(AIR, HUMIDITY)))
    bench.begin(piece("a"), air_c=40.0)
    bench.turn(40.0, readings=[("rh", 35.0)], asks=[Weigh(piece="a", weight_g=640.0)])
    bench.turn(40.0, notices=[Notice("keeper-lost", 3.0, "died")])
    kinds = {(n.id, p.id): p for n in NODES for p in n.properties}
    told = topics(seen(bench))
    assert len(told) > 60
    for topic, payload in told.items():
        node, _, prop_id = topic.partition("/")
        prop = kinds[(node if (node, prop_id) in kinds else node.partition("-")[0], prop_id)]
        match prop.datatype:
            case "float":
                assert FLOAT.fullmatch(payload), topic
            case "integer":
                assert INTEGER.fullmatch(payload), topic
            case "boolean":
                assert payload in ("true", "false"), topic
            case "enum":
                assert payload in prop.choices, topic
            case "datetime":
                assert datetime.fromisoformat(payload).tzinfo is not None, topic
            case "json":
                assert isinstance(json.loads(payload), list), topic


def test_only_what_has_changed_is_told() -> None:
    bench = running()
    watcher = Watcher()
    first, renewed = watcher.changes(seen(bench))
    assert renewed
    assert len(first) == len({topic for topic, _, _ in first})
    assert watcher.changes(seen(bench)) == ([], False)
    bench.turn(41.0)
    changed, renewed = watcher.changes(seen(bench))
    assert not renewed
    told = {topic: payload for topic, payload, _ in changed}
    assert told["air/air-c"] == "41.0"
    assert "program/phase" not in told
    assert "piece-a/name" not in told


def test_a_glance_tells_of_what_is_told_at_once_and_of_nothing_else() -> None:
    bench = running()
    watcher = Watcher()
    watcher.changes(seen(bench))
    view = View(bench.tick, bench.state, Stamp(utc_s=1.76e9), bench.last.on)
    first = {topic for topic, _, _ in watcher.quick_changes(glance(bench.layout, view))}
    assert first >= {"air/air-c", "air/setpoint-c", "program/phase", "program/in-band", "output-heater/on"}
    assert not first & {"program/step-h", "air/rh-pct", "output-heater/operations", "chamber/utc"}
    bench.turn(41.0)
    view = View(bench.tick, bench.state, Stamp(utc_s=1.76e9), bench.last.on)
    told = {topic: payload for topic, payload, _ in watcher.quick_changes(glance(bench.layout, view))}
    assert told["air/air-c"] == "41.0"
    assert set(told) <= {"air/air-c", "air/setpoint-c", "air/quality", "program/in-band"}


def test_what_only_the_whole_look_saw_is_put_right_by_the_next_glance() -> None:
    """A heater on for the one second of the whole look once stood as on until the next, ten seconds later."""
    bench = running()
    watcher = Watcher()
    shown: dict[str, str] = {}
    view = View(bench.tick, bench.state, Stamp(utc_s=1.76e9), frozenset())
    off = glance(bench.layout, view)
    still, pulse = seen(bench), seen(bench)
    still["outputs"] = dict.fromkeys(still["outputs"], False)
    pulse["outputs"] = dict.fromkeys(pulse["outputs"], True)
    watcher.changes(still)
    shown |= {topic: payload for topic, payload, _ in watcher.quick_changes(off)}
    shown |= {topic: payload for topic, payload, _ in watcher.changes(pulse)[0]}
    shown |= {topic: payload for topic, payload, _ in watcher.quick_changes(off)}
    assert shown["output-heater/on"] == "false"


@pytest.mark.parametrize(
    ("topic", "payload"),
    [
        ("air/air-c", "nan"),
        ("air/air-c", "1e999"),
        ("alarms/list", "[NaN]"),
        ("chamber/planned", "[1e999]"),
        ("chamber/utc", "yesterday"),
        ("chamber/utc", "2030-05-01T06:30:00"),
        ("chamber/utc", "\0"),
    ],
)
def test_what_is_no_value_is_left_out(topic: str, payload: str) -> None:
    assert rebuild({topic: payload}) == rebuild({})


def test_another_batch_is_another_set_of_nodes() -> None:
    watcher = Watcher()
    watcher.changes(seen(running()))
    bench = Bench.of()
    bench.begin(piece("c"))
    changed, renewed = watcher.changes(seen(bench))
    assert renewed
    assert any(topic.startswith("piece-c/") for topic, _, _ in changed)
    assert not any(topic.startswith("piece-a/") for topic, _, _ in changed)


def test_a_snapshot_can_be_put_together_again_from_its_topics() -> None:
    bench = Bench.of(chamber(sensors=(AIR, HUMIDITY)))
    bench.begin(piece("a"), piece("b-"), air_c=40.0)
    bench.turn(40.0, readings=[("rh", 35.0)], asks=[Weigh(piece="a", weight_g=640.0)])
    bench.turn(40.5, notices=[Notice("keeper-lost", 3.0, "died")])
    told = seen(bench)
    again = rebuild(topics(told))
    for sensor in told["sensors"]:
        del sensor["age_s"]
    assert again["sensors"] == told["sensors"]
    assert again["alarms"] == told["alarms"]
    for key in ("outputs", "operations", "pieces", "meat", "planned", "next", "no_heat", "utc", "record", "messages"):
        assert again[key] == told[key], key
    for part in ("run", "air"):
        assert again[part] == {
            k: pytest.approx(v, abs=0.006) if isinstance(v, float) else v for k, v in told[part].items()
        }
    assert again["chamber_s"] == told["chamber_s"]


@given(
    st.dictionaries(
        st.sampled_from(
            [
                "air/air-c",
                "program/phase",
                "piece-a/name",
                "piece-a/weight-g",
                "alarms/list",
                "x/y",
                "sensor-/value",
                "a",
            ]
        ),
        st.text(max_size=12),
    )
)
def test_whatever_stands_on_a_broker_can_be_read_without_breaking(strange: dict[str, str]) -> None:
    try:
        rebuild(strange)
    except Exception as error:
        raise AssertionError(strange) from error
