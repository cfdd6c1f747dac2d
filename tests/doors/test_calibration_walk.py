"""The walk: points are on the disk before anything else happens, and what is said goes where it should."""

from __future__ import annotations

from pathlib import Path

import pytest

from dryward.doors.calibration_results import Thermometer
from dryward.doors.calibration_walk import Walk
from dryward.doors.measuring import Subject
from dryward.settings import read_settings
from tests.doors.calibration_bench import CalibrationBench, bench_in


@pytest.fixture
def bench(tmp_path: Path) -> CalibrationBench:
    return bench_in(tmp_path)


def walk(bench: CalibrationBench, said: list[str]) -> Walk:
    settings = read_settings(bench.config)
    sensor = settings.chamber.sensors[0]
    subject = Subject(name="air", device="top", kind="hwmon", reads="temperature", offset=sensor.offset)
    return Walk(Thermometer(subject, sensor, 101_325.0, None), settings, who="anna", readings=1, say=said.append)


def test_a_point_is_written_down_before_the_next_is_asked_for(bench: CalibrationBench) -> None:
    said: list[str] = []
    walk(bench, said).take("ice")
    (entry,) = bench.book.entries
    assert (entry.line, entry.reference, entry.shown, entry.note, entry.who) == ("point", 0.0, 0.4, "ice water", "anna")
    assert said == ["  0 degC shows 0.4 (mean of 1, standard deviation 0)"]


def test_another_walk_goes_on_with_the_points_of_the_first(bench: CalibrationBench) -> None:
    walk(bench, []).write_down("0", "0.4")
    said: list[str] = []
    found = walk(bench, said).finish()
    assert found["offset"] == pytest.approx(-0.4)
    assert "1 point, by anna" in said[0]
    assert str(bench.book.path) in said[-1]


def test_a_point_written_down_is_said_again_and_a_set_offset_is_not_taken_twice(bench: CalibrationBench) -> None:
    """1,000 was meant as a thousand; and the status shows a reading with its offset already in it."""
    said: list[str] = []
    walk(bench, said).write_down("1,000", "0.4")
    assert said[0] == "  1 degC shows 0.4 (written down)"
    assert "offset of +0.5 degC: take that off first" in said[1]


def test_without_a_point_none_is_said_to_be_kept(bench: CalibrationBench, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        walk(bench, []).finish()
    assert "kept" not in capsys.readouterr().err


def test_a_book_that_cannot_be_written_ends_the_walk(
    bench: CalibrationBench, capsys: pytest.CaptureFixture[str]
) -> None:
    bench.book.path.mkdir()
    with pytest.raises((SystemExit, IsADirectoryError)):
        walk(bench, []).write_down("0", "0.4")


def test_dropping_nothing_writes_nothing(bench: CalibrationBench) -> None:
    walk(bench, []).drop()
    assert bench.book.entries == []
