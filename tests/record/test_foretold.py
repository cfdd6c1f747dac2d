"""What was foretold is shown as it stood then and set against what came."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from dryward.core.commands import Commands
from dryward.core.inputs import Inputs
from dryward.record.facts import Facts, Then
from dryward.record.foretold import crossed_tick, judged
from dryward.record.gather import gather
from dryward.record.moments import Mark, PieceReached
from dryward.record.page import page
from dryward.record.page_charts import piece_chart
from dryward.record.page_curves import curves
from dryward.record.queries import Record
from dryward.record.review import judge
from dryward.record.review_text import as_text
from tests.record.scene import began, ended, put, writer

LAST = 4000
FORECASTS = {
    600: {"finish_s": 3000.0, "finish_lo_s": 2000.0, "finish_hi_s": 0.0},
    1300: {"finish_s": 0.0, "finish_lo_s": 0.0, "finish_hi_s": 0.0},
    1900: {"finish_s": 3600.0, "finish_lo_s": 3100.0, "finish_hi_s": 5600.0},
    3100: {"finish_s": 3340.0, "finish_lo_s": 3330.0, "finish_hi_s": 3350.0},
}


@pytest.fixture(scope="module")
def record(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A run of 4000 ticks of a second; loin-a crosses its target at 3200; four forecasts of it."""
    path = tmp_path_factory.mktemp("foretold") / "r.db"
    book = writer(path)
    shown: dict[str, float] = {}
    for tick in range(0, LAST + 1, 100):
        marks: list[Mark] = []
        if tick == 0:
            marks.append(began("r1"))
        if tick in FORECASTS:
            shown = {f"{name}:loin-a": value for name, value in FORECASTS[tick].items()}
        if tick == 3200:
            marks.append(PieceReached(run_id="r1", piece="loin-a", weight_g=650.0, crossed_s=3200.0))
        if tick == LAST:
            marks.append(ended("r1", loin_a=640.0, loin_b=700.0))
        figures = {"weight_g:loin-a": 1000.0 - 350.0 * tick / 3200.0, **shown}
        put(book, tick, Inputs(), Commands(on=frozenset()), marks=marks, figures=figures)
    assert book.close()
    return path


@pytest.fixture
def facts(record: Path) -> Facts:
    with Record(record) as opened:
        return gather(opened, "r1")


def test_the_forecasts_in_force_at_a_quarter_half_and_three_quarters_are_kept(facts: Facts) -> None:
    assert facts.forecasts == {
        "loin-a": [
            Then(600, 3000.0, 2000.0, None),
            Then(1300, None, None, None),
            Then(1900, 3600.0, 3100.0, 5600.0),
        ]
    }


def test_each_is_set_against_what_came(facts: Facts) -> None:
    quarter, half, late = judged(facts)
    assert (quarter.off_h, quarter.held, quarter.high_utc) == (pytest.approx(200 / 3600), True, None)
    assert (half.finish_utc, half.off_h, half.held) == (None, None, False)
    assert (late.off_h, late.held) == (pytest.approx(-400 / 3600), True)
    assert (quarter.made_utc, quarter.finish_utc) == ("2025-10-09T09:03:20.000Z", "2025-10-09T09:43:20.000Z")


def test_a_piece_that_is_not_there_yet_is_set_against_nothing(facts: Facts) -> None:
    open_ = replace(facts, pieces=[p._replace(reached_tick=None, crossed_s=None) for p in facts.pieces])
    assert {(f.off_h, f.held) for f in judged(open_)} == {(None, None)}
    assert crossed_tick(open_, open_.pieces[0]) is None


def test_the_chart_draws_the_way_that_was_foretold_no_further_than_the_run(record: Path, facts: Facts) -> None:
    with Record(record) as opened:
        drawn = curves(opened, facts)
    a, b = judge(facts).pieces
    ways = [path for style, path in piece_chart(facts, drawn, a, 0, 40.0).shapes if style == "forecast"]
    assert [w.partition("L")[0].split(" ")[0] for w in ways] == ["M150.0", "M475.0"]
    assert ways[0].split("L")[1].split(" ")[0] == "750.0"
    far = replace(facts, forecasts={"loin-a": [Then(2000, 6000.0, 5000.0, 7000.0)]})
    (cut,) = [path for style, path in piece_chart(far, drawn, a, 0, 40.0).shapes if style == "forecast"]
    # Half of the way from 21.9 % to 35 % lies at the end of the run: 28.4 % of an axis of 40 %.
    right, height = cut.split("L")[1].split(" ")
    assert float(right) == 1000.0
    assert 100.0 - float(height) == pytest.approx(100.0 * 28.4 / 40.0, abs=1.0)
    assert not any(style == "forecast" for style, _ in piece_chart(facts, drawn, b, 1, 40.0).shapes)


def test_page_and_text_say_it_and_the_text_keeps_to_80_columns(record: Path, facts: Facts) -> None:
    with Record(record) as opened:
        text = page(opened, "r1")
    assert "What was foretold" in text
    assert "not with that program" in text
    assert "OUTSIDE" not in text
    said = as_text(judge(facts))
    (line,) = [line for line in said.splitlines() if "perhaps never" in line]
    assert line.split() == [
        "loin-a",
        "09",
        "Oct",
        "09:03",
        "09",
        "Oct",
        "09:43",
        "09",
        "Oct",
        "09:26",
        "to",
        "perhaps",
        "never",
        "+0.1",
        "h",
    ]
    long = replace(facts, pieces=[p._replace(crossed_s=99_999.0) for p in facts.pieces])
    assert max(map(len, as_text(judge(long)).splitlines())) <= 80


def test_a_run_without_forecasts_says_nothing_of_them(record: Path, facts: Facts) -> None:
    none = judge(replace(facts, forecasts={}))
    assert none.foretold == ()
    assert "foretold" not in as_text(none)
