"""What each chart holds, and that one without data is not drawn."""

from __future__ import annotations

from dataclasses import replace

import pytest

from dryward.record.facts import Facts
from dryward.record.gather import gather
from dryward.record.page_charts import (
    air_chart,
    damp_chart,
    duty_chart,
    energy_chart,
    hold_said,
    piece_chart,
    wet_chart,
)
from dryward.record.page_curves import Curves, curves
from dryward.record.page_marks import Mark, marks
from dryward.record.queries import Record
from dryward.record.review import judge
from tests.record.batch import write_batch


@pytest.fixture(scope="module")
def drawn(tmp_path_factory: pytest.TempPathFactory) -> tuple[Facts, Curves, list[Mark]]:
    path = tmp_path_factory.mktemp("charts") / "r.db"
    write_batch(path)
    with Record(path) as record:
        facts = gather(record, "r1")
        found = curves(record, facts)
    return facts, found, marks(facts, found.grid)


def test_the_air_is_drawn_with_program_bands_hold_trip_and_limit(drawn: tuple[Facts, Curves, list[Mark]]) -> None:
    chart = air_chart(*drawn)
    assert {"air", "second", "setpoint", "hold", "trip", "limit", "air-spread", "step"} <= {s for s, _ in chart.shapes}
    assert sum(s == "band" for s, _ in chart.shapes) == 2
    assert {t.text for t in chart.tags} >= {"▲ 1", "warm", "dry"}
    assert "degrees Celsius" in chart.said


def test_a_piece_is_drawn_against_its_target(drawn: tuple[Facts, Curves, list[Mark]]) -> None:
    facts, found, _ = drawn
    a, b = judge(facts).pieces
    assert {"target", "loss", "reached"} <= {s for s, path in piece_chart(facts, found, a, 0, 38.0).shapes if path}
    assert "weighed" in {s for s, _ in piece_chart(facts, found, b, 1, 38.0).shapes}


def test_what_was_not_measured_is_not_drawn(drawn: tuple[Facts, Curves, list[Mark]]) -> None:
    _, found, marked = drawn
    charts = (damp_chart, wet_chart, duty_chart, energy_chart)
    assert all(draw(found, marked) is not None for draw in charts)
    nothing = [None] * found.grid.points
    bare = replace(found, sensors=(), wet_bulb_c=nothing, duty_pct=nothing, energy_kwh=nothing)
    assert all(draw(bare, marked) is None for draw in charts)


def test_the_time_held_is_said(drawn: tuple[Facts, Curves, list[Mark]]) -> None:
    assert hold_said(drawn[2], 2.0) == "Held for 10 min (hatched)."
    assert hold_said([], 2.0) == ""
