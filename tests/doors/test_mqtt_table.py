"""The property table obeys Homie 5 and names everything a snapshot knows."""

from __future__ import annotations

import re
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dryward.core.inputs import Notice
from dryward.doors.mqtt.table import ALARM_KEYS, NODES, alerts, parts, topic_ids
from dryward.record.moments import Stamp
from dryward.service.loop import View
from dryward.service.snapshot import snapshot
from tests.core.bench_chamber import Bench, piece

ID = re.compile(r"[a-z0-9]([a-z0-9-]*[a-z0-9])?")  # Homie 5, "Topic IDs": a-z, 0-9 and hyphen, no hyphen at either end
UNITS = {"", "°C", "%", "s", "h", "g", "kWh", "#"}  # all but g are among the units Homie 5 recommends


def seen(bench: Bench) -> dict[str, Any]:
    view = View(bench.tick, bench.state, Stamp(utc_s=1.76e9), bench.last.on)
    return snapshot(bench.layout, view) | {
        "planned": [],
        "messages": {"ticking": True, "waiting": 0, "lost": 0, "version": "1"},
    }


def running() -> Bench:
    bench = Bench.of()
    bench.begin(piece("a"), piece("b"), air_c=40.0)
    bench.turns(3, 40.0)
    return bench


@pytest.mark.parametrize("node", NODES, ids=lambda n: n.id)
def test_every_id_is_one_of_homie_5(node: Any) -> None:
    assert ID.fullmatch(node.id)
    ids = [p.id for p in node.properties]
    assert len(set(ids)) == len(ids)
    for prop in node.properties:
        assert ID.fullmatch(prop.id)
        assert prop.unit in UNITS
        assert prop.words
        assert (prop.datatype == "enum") == bool(prop.choices)
        assert all("," not in choice for choice in prop.choices)


def test_a_unit_in_a_name_is_the_unit_that_is_told() -> None:
    units = {"c": "°C", "pct": "%", "g": "g", "s": "s", "h": "h", "kwh": "kWh"}
    for node in NODES:
        for prop in node.properties:
            ending = prop.id.rpartition("-")[2]
            assert prop.unit == units.get(ending, prop.unit), prop.id


def test_nodes_follow_the_chamber_as_it_is() -> None:
    ids = [topic_id for _, topic_id, _ in parts(seen(running()))]
    assert ids == [
        "chamber", "program", "air", "output-heater", "output-fan", "output-contactor", "sensor-air",
        "piece-a", "piece-b", "alarms", "health", "messages",
    ]  # fmt: skip


def test_every_property_finds_its_value_in_a_snapshot() -> None:
    for node, _, values in parts(seen(running()) | {"record": {"ok": True, "why": "", "waiting": 0, "lost": 0}}):
        missing = [p.key for p in node.properties if p.key not in values]
        assert missing == [], node.id


def test_what_a_snapshot_holds_stands_under_a_topic_or_is_known_not_to() -> None:
    """A new key of a snapshot needs a topic, or a reason here."""
    left_out = {"sensor": {"age_s"}}  # it changes with every tick; a stale sensor says so by its quality
    derived = {"energy", "moisture"}  # worked out of energy, weights and air, which have topics
    at_home = {"relays", "tuning"}  # wear and tuning are matters of whoever stands beside the chamber
    told = seen(running())
    assert derived | at_home <= set(told)
    assert set(told) - derived - at_home - {p.key for n in NODES if n.id == "chamber" for p in n.properties} == {
        "chamber", "run", "air", "sensors", "outputs", "operations", "pieces", "alarms", "record", "messages",
    }  # fmt: skip
    for node, _, values in parts(told):
        if node.id not in ("chamber", "health"):
            assert set(values) - {p.key for p in node.properties} == left_out.get(node.id, set()), node.id


@given(st.lists(st.text("ab-C_ é", max_size=8), unique=True, max_size=8))
def test_names_get_ids_that_are_valid_and_all_different(names: list[str]) -> None:
    ids = topic_ids("piece", tuple(names))
    assert len(set(ids)) == len(names)
    assert all(ID.fullmatch(i) for i in ids)


def test_a_standing_alarm_is_told_in_words_and_a_cleared_one_is_not() -> None:
    bench = running()
    bench.turn(40.0, notices=[Notice("keeper-lost", 3.0, "died")])
    (key, text), *_ = alerts(seen(bench)).items()
    assert key == "keeper-dying"
    alarm = next(a for a in seen(bench)["alarms"] if a["key"] == key)
    assert text == f"{alarm['happened']} {alarm['meaning']} {alarm['advice']}"
    assert set(ALARM_KEYS) <= set(alarm)
    cleared = seen(bench) | {"alarms": [alarm | {"phase": "cleared"}]}
    assert alerts(cleared) == {}


def test_two_alarms_of_one_kind_stand_apart() -> None:
    alarm = {"key": "sensor-missing", "phase": "active", "trip": False, "happened": "h", "meaning": "m", "advice": "a"}
    told = alerts({"alarms": [alarm | {"subject": "core"}, alarm | {"subject": "room"}]})
    assert set(told) == {"sensor-missing-core", "sensor-missing-room"}
