"""What is said of a chamber's calibrations, to whom, and when."""

from __future__ import annotations

import os
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from dryward.doors.calibration_book import Entry, Kind
from dryward.doors.calibration_watch import CalibrationWatch, too_old, worries
from dryward.settings import Settings, read_settings
from tests.doors.calibration_bench import CalibrationBench, bench_in

NOW = datetime(2031, 4, 2, 12, 0, tzinfo=UTC)


@pytest.fixture
def bench(tmp_path: Path) -> CalibrationBench:
    return bench_in(tmp_path)


def made(
    bench: CalibrationBench, calibration: str, *, days_ago: float, name: str = "hook-1", kind: Kind = "scale"
) -> None:
    utc = (NOW - timedelta(days=days_ago)).isoformat(timespec="seconds")
    bench.book.add(Entry(line="result", utc=utc, who="ben", kind=kind, name=name, device="d", calibration=calibration))


def chamber(bench: CalibrationBench, calibration: str = "") -> Settings:
    named = f'calibration = "{calibration}"' if calibration else ""
    bench.chamber(f"g_per_count = 0.01\n{named}")
    return read_settings(bench.config)


def said(bench: CalibrationBench, settings: Settings) -> list[str]:
    return [str(w) for w in worries(settings, bench.book, NOW)]


def test_a_fresh_calibration_that_is_in_use_is_no_matter(bench: CalibrationBench) -> None:
    made(bench, "a", days_ago=89)
    assert said(bench, chamber(bench, "a")) == []


def test_a_scale_that_was_never_calibrated_gives_no_weight(bench: CalibrationBench) -> None:
    (told,) = said(bench, read_settings(bench.config))
    assert (
        told
        == "hook-1 was never calibrated: it gives counts and no weight. Do it with 'dryward calibrate scale hook-1'."
    )


def test_an_old_one_is_told_with_the_command(bench: CalibrationBench) -> None:
    made(bench, "a", days_ago=91)
    (told,) = said(bench, chamber(bench, "a"))
    assert told.startswith("calibration a of hook-1: 91 days old, 90 is")
    assert "dryward calibrate scale hook-1" in told


def test_one_that_nobody_knows_and_one_without_a_name_are_told(bench: CalibrationBench) -> None:
    assert "names the calibration b, which is not in record.calibrations.jsonl" in said(bench, chamber(bench, "b"))[0]
    assert "names no calibration" in said(bench, chamber(bench))[0]


def test_a_newer_one_that_was_not_taken_over_is_told(bench: CalibrationBench) -> None:
    made(bench, "a", days_ago=10)
    made(bench, "b", days_ago=5)
    assert (
        "hook-1 is weighed by a; b is newer. Take its lines over into [devices.cell-1]"
        in said(bench, chamber(bench, "a"))[0]
    )


def test_only_what_is_in_the_chamber_can_be_old(bench: CalibrationBench) -> None:
    made(bench, "a", days_ago=1)
    made(bench, "x", days_ago=900, name="sold-one", kind="thermometer")
    made(bench, "y", days_ago=400, name="air", kind="thermometer")
    settings = chamber(bench, "a")
    assert [w.text[:25] for w in worries(settings, bench.book, NOW)] == ["calibration y of air: 400"]
    assert list(too_old(settings.chamber, bench.book, NOW - timedelta(days=100))) == []


def test_a_daemon_sees_a_new_line_at_once_and_survives_a_book_it_cannot_read(bench: CalibrationBench) -> None:
    watch = CalibrationWatch(chamber(bench, "a"))
    assert "not in record.calibrations.jsonl" in watch.told()[0]
    made(bench, "a", days_ago=1)
    assert watch.told() == []
    book = bench.book.path
    os.rename(book, book.with_name("away"))
    book.mkdir()
    assert "cannot be read" in watch.told()[0]
