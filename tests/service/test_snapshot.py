"""The state as others read it."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import pytest

from dryward.core.alarms import Alarm
from dryward.core.asks import COMMISSIONING
from dryward.core.chamber import Limits
from dryward.core.inputs import Ack, Hold, Load, Notice, Start, Weigh
from dryward.core.program import Ends, Step
from dryward.record.moments import Stamp
from dryward.record.writer import Health
from dryward.science.comeback import Visit
from dryward.service.foretell import Ahead, Outlook
from dryward.service.loop import View
from dryward.service.outlook import Prospect
from dryward.service.snapshot import next_action, snapshot
from tests.core.bench_chamber import Bench, chamber, piece, program


def seen(bench: Bench, **more: object) -> dict[str, object]:
    view = View(bench.tick, bench.state, Stamp(utc_s=1_760_000_000.0), bench.last.on)
    return snapshot(bench.layout, view, **more)  # type: ignore[arg-type]


def test_it_is_plain_json_whatever_is_known() -> None:
    bench = Bench.of()
    assert "NaN" not in json.dumps(seen(bench), allow_nan=False)
    bench.begin(piece("a"))
    bench.turns(30, 40.0)
    bench.turn(math.nan)
    json.dumps(seen(bench, health=Health(ok=False, why="full", buffered=3, dropped=1)), allow_nan=False)


def test_it_names_run_air_outputs_and_pieces() -> None:
    bench = Bench.of()
    bench.begin(piece("a", 1000.0))
    bench.turns(5, 40.0)
    (unweighed,) = seen(bench)["pieces"]  # type: ignore[misc]
    assert (unweighed["weight_g"], unweighed["weighed_s"]) == (None, None)
    bench.turn(40.0, asks=[Weigh(piece="a", weight_g=800.0)])
    told = seen(bench)
    assert told["utc"] == "2025-10-09T08:53:20.000Z"
    assert told["chamber_s"] == bench.now
    assert told["run"]["phase"] == "running"  # type: ignore[index]
    assert told["run"]["steps"] == 1  # type: ignore[index]
    assert told["air"]["air_c"] == 40.0  # type: ignore[index]
    assert told["outputs"] == {name: name in bench.last.on for name in ("heater", "fan", "contactor")}
    (one,) = told["pieces"]  # type: ignore[misc]
    # 35 % of 1000 g is done at 650 g; 800 g is 20 % lost: arithmetic of the trade, common practice, no source.
    assert (one["target_g"], one["weight_g"], one["loss_pct"], one["status"]) == (650.0, 800.0, 20.0, "drying")
    assert one["weighed_s"] == bench.now
    assert told["record"] is None


def test_a_piece_that_is_done_says_when_by_the_wall_clock() -> None:
    bench = Bench.of()
    bench.begin(piece("a", 1000.0))
    bench.turn(40.0, asks=[Weigh(piece="a", weight_g=640.0)])
    bench.turns(60, 40.0)
    (one,) = seen(bench)["pieces"]  # type: ignore[misc]
    assert one["status"] == "done"
    assert one["done_utc"] == "2025-10-09T08:52:20.000Z"


def test_an_alarm_is_explained_in_three_lines() -> None:
    bench = Bench.of()
    bench.begin()
    bench.turn(22.0, notices=[Notice("keeper-lost", 3.0, "died")])
    (trip,) = [a for a in seen(bench)["alarms"] if a["trip"]]  # type: ignore[attr-defined]
    assert all(trip[key] for key in ("happened", "meaning", "advice"))
    assert trip["acked_by"] == ""
    bench.turn(22.0, asks=[Ack()], who="Ana")
    (trip,) = [a for a in seen(bench)["alarms"] if a["trip"]]  # type: ignore[attr-defined]
    assert trip["acked_by"] == "Ana"


def test_the_record_is_told_with_what_waits_and_what_is_lost() -> None:
    told = seen(Bench.of(), health=Health(ok=False, why="full", buffered=7, dropped=2))
    assert told["record"] == {"ok": False, "why": "full", "waiting": 7, "lost": 2}


@pytest.mark.parametrize("case", ["idle", "loaded", "running", "held", "tripped"])
def test_there_is_always_something_to_do_next(case: str) -> None:
    bench = Bench.of()
    bench.turn(22.0)
    if case == "loaded":
        bench.turn(22.0, asks=[Load(pieces=(piece(),))])
    elif case != "idle":
        bench.begin()
    if case == "held":
        bench.turn(22.0, asks=[Hold(reason="lunch")])
    elif case == "tripped":
        bench.turn(22.0, notices=[Notice("keeper-lost", 3.0, "died")])
    word = {"idle": "load", "loaded": "start", "running": "weigh", "held": "resume", "tripped": "ack"}[case]
    assert word in next_action(bench.state)


def ahead(bench: Bench, **finish_h: float) -> Prospect:
    """A forecast for some pieces, so many hours from now, and an opening in three hours for all of them."""
    now = bench.state.now
    pieces = tuple(
        Ahead(piece=n, last_s=now, last_g=900.0, finish_s=now + h * 3600.0, lo_s=now + 1800.0, hi_s=math.inf)
        for n, h in finish_h.items()
    )
    outlook = Outlook(run_id="r1", made_s=now - 60.0, over_s=math.inf, pieces=pieces)
    return Prospect(outlook, (Visit(now + 3 * 3600.0, tuple(finish_h), ()),))


def test_a_piece_says_when_it_will_be_done_and_the_owner_when_to_come_back() -> None:
    bench = Bench.of()
    bench.begin(piece("a"), piece("b"))
    bench.turns(5, 40.0)
    told = seen(bench, prospect=ahead(bench, a=2.0, b=math.inf))
    a, b = told["pieces"]  # type: ignore[misc]
    assert a["finish_s"] == bench.now + 7200.0
    assert a["finish_utc"] == "2025-10-09T10:53:20.000Z"
    assert (a["finish_lo_utc"], a["finish_hi_utc"], a["finish_never"]) == ("2025-10-09T09:23:20.000Z", None, False)
    assert a["forecast_s"] == bench.now - 60.0
    assert (b["finish_utc"], b["finish_never"]) == (None, True)
    (come_back,) = told["come_back"]  # type: ignore[misc]
    assert come_back["at_utc"] == "2025-10-09T11:53:20.000Z"
    assert come_back["weigh"] == ["a", "b"]
    assert told["next"] == come_back["text"]
    json.dumps(told, allow_nan=False)


def test_a_piece_that_is_done_has_no_forecast_and_is_the_next_thing_to_do() -> None:
    bench = Bench.of()
    bench.begin(piece("a", 1000.0), piece("b", 1000.0))
    bench.turn(40.0, asks=[Weigh(piece="a", weight_g=640.0)])
    told = seen(bench, prospect=ahead(bench, a=2.0, b=5.0))
    a, b = told["pieces"]  # type: ignore[misc]
    assert (a["status"], a["finish_s"]) == ("done", None)
    assert b["finish_s"] is not None
    assert str(told["next"]).startswith("Take out a: done. Then 'dryward pull PIECE'. Weigh b ")


def test_a_trip_comes_before_any_opening() -> None:
    bench = Bench.of()
    bench.begin(piece("a"))
    bench.turn(22.0, notices=[Notice("keeper-lost", 3.0, "died")])
    assert "ack" in str(seen(bench, prospect=ahead(bench, a=2.0))["next"])


def test_an_alarm_that_is_over_hides_not_what_is_next() -> None:
    """A door that was open for long and is shut again: "shut the door" would send somebody to a shut door."""
    bench = Bench.of()
    bench.begin()
    bench.turn(22.0)
    over = Alarm(key="door-open", subject="", phase="cleared", since_s=0.0)
    there = replace(over, phase="active")
    assert "door" in next_action(replace(bench.state, alarms=(there,))).lower()
    assert next_action(replace(bench.state, alarms=(over,))) == next_action(bench.state)


def test_who_starts_a_program_while_commissioning_is_told_that_no_heat_comes() -> None:
    bench = Bench.of(chamber(limits=Limits(commissioning=True)))
    bench.ask(Load(pieces=(piece(),)), 22.0)
    assert COMMISSIONING in bench.ask(Start(program=program(), run_id="r"), 22.0).text
    bench.turn(22.0)
    assert next_action(bench.state) == COMMISSIONING


def test_a_watched_rest_needs_no_heat_while_commissioning() -> None:
    bench = Bench.of(chamber(limits=Limits(commissioning=True)))
    bench.ask(Load(pieces=(piece(),)), 4.0)
    rest = program(Step(name="rest", watch_only=True, ends=Ends(dwell_h=1.0)))
    assert COMMISSIONING not in bench.ask(Start(program=rest, run_id="r"), 4.0).text
    bench.turn(4.0)
    assert next_action(bench.state) != COMMISSIONING


def test_a_welded_relay_comes_before_the_heat_that_it_showed_by() -> None:
    bench = Bench.of()
    hot = Alarm(key="over-limit", subject="air", phase="latched", since_s=0.0)
    welded = replace(hot, key="heat-while-off", subject="", phase="active")
    assert "PULL THE PLUG NOW" in next_action(replace(bench.state, alarms=(hot, welded)))
    assert "PULL THE PLUG NOW" not in next_action(replace(bench.state, alarms=(hot,)))
