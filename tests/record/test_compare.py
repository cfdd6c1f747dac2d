"""Figures of runs side by side are those of each run."""

from __future__ import annotations

from pathlib import Path

import pytest

from dryward.record.compare import compare, step_words
from dryward.record.compare_text import as_text, overlay
from dryward.record.queries import Record
from tests.record.batch import write_batch


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
        assert step_words(record.run("r1").program)[0] == "warm: 50 degC, until 1 h in band"
