"""Figures of runs side by side are those of each run."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from dryward.core.program import AtEnd, Ends
from dryward.record.compare import compare, step_words
from dryward.record.compare_text import as_text, overlay
from dryward.record.moments import Mark, PieceReached
from dryward.record.queries import Record
from tests.record.batch import write_batch
from tests.record.scene import PROGRAM, began, put, writer


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("compare") / "r.db"
    write_batch(path)
    write_batch(path, "r2", end="stopped", first=20_000, hot=True)
    return path


def test_rates_and_energy_are_reckoned_from_weights(path: Path) -> None:
    with Record(path) as record:
        (one,) = compare(record, ["r1"])
    assert one.hours == pytest.approx(2.0)
    assert one.water_g == pytest.approx(1000.0 + 812.5 - 640.0 - 700.0)
    assert one.kwh_per_kg == pytest.approx(1.0 / 0.4725, rel=0.01)
    assert one.rates[0].pct_per_day == pytest.approx(24.0 * 35.0 / (7000 / 3600))  # 35 % in 7000 s
    assert one.rates[1].pct_per_day == pytest.approx(24.0 * (100.0 - 100.0 * 700.0 / 812.5) / 2.0)
    assert one.loss_pct[-1] == pytest.approx(36.0, abs=0.5)


def test_lines_that_differ_are_marked_and_curves_overlaid(path: Path) -> None:
    with Record(path) as record:
        found = compare(record, ["r1", "r2"])
        same = compare(record, ["r1", "r1"])
    text = as_text(found)
    assert "* verdict" in text
    assert "  load, g" in text
    assert "Same program" in text
    assert "* " not in as_text(same)
    assert "#" in overlay(found)
    assert max(len(line) for line in text.splitlines()) <= 100
    assert overlay(()) == ""


def test_a_step_is_told_in_one_line(path: Path) -> None:
    with Record(path) as record:
        program = record.run("r1").program
    assert step_words(program)[0] == "warm: 50 degC, until 1 h in band"
    assert step_words(program)[-1] == "in all at most 90 h, then heat off"


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"band_k": 5.0}, "band_k 5"),
        ({"vent": "shut"}, "vent shut"),
        ({"ends": Ends(dwell_h=1.0, own_target=True, when="all", pieces="any")}, "pieces any, when all"),
    ],
)
def test_programs_that_differ_anywhere_are_not_called_the_same(change: dict[str, Any], said: str) -> None:
    step = PROGRAM.steps[0]
    assert step_words(replace(PROGRAM, steps=(replace(step, **change),)))[0].endswith(said)
    kept = replace(PROGRAM, at_end=AtEnd(action="keep-warm", air_c=62.0), cap_h=80.0, poultry=True)
    assert step_words(kept)[-1] == "in all at most 80 h, then keep-warm 62 degC for 4 h, poultry"


def test_the_error_of_the_forecasts_is_compared(tmp_path: Path) -> None:
    """Foretold 12 min too early at a quarter; half-way too late by 24, which still stands at three quarters: 18 min on average."""
    book = writer(tmp_path / "r.db")
    names = ("finish_s:loin-a", "finish_lo_s:loin-a", "finish_hi_s:loin-a")
    told = {0: 4000.0 - 720.0, 1500: 4000.0 + 1440.0}
    for tick in range(0, 4001, 100):
        marks: list[Mark] = [began()] if tick == 0 else []
        if tick == 4000:
            marks = [PieceReached(run_id="r1", piece="loin-a", weight_g=650.0, crossed_s=4000.0)]
        put(book, tick, marks=marks, figures=dict.fromkeys(names, told[tick]) if tick in told else None)
    assert book.close()
    with Record(tmp_path / "r.db") as record:
        found = compare(record, ["r1", "r1"])
    assert [p.forecast_off_h for p in found[0].rates] == [pytest.approx(0.3), None]
    assert "forecasts off by, h 0.3 0.3" in " ".join(as_text(found).split())
