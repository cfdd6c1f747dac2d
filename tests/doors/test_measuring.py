"""Readings for a calibration: from the device itself, or from the daemon that holds it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from dryward.doors import measuring as module
from dryward.doors.measuring import NoReading, Subject, measure
from dryward.settings import read_settings
from tests.doors.calibration_bench import CalibrationBench, bench_in

AIR = Subject(name="air", device="top", kind="hwmon", reads="temperature", offset=0.5)
HOOK = Subject(name="hook-1", device="cell-1", kind="hx711", reads="counts", is_sensor=False)
ROOM = Subject(name="room", device="room", kind="dht22", reads="temperature", offset=0.5)


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> CalibrationBench:
    monkeypatch.setattr(module, "PACE_S", 0.05)
    return bench_in(tmp_path)


class Telling:
    """A daemon that tells these readings of the room, one a call."""

    def __init__(self, *readings: tuple[float | None, str, float]) -> None:
        self.readings = list(readings)

    def __call__(self, path: Path, message: dict[str, Any]) -> dict[str, Any]:
        value, quality, sampled_s = self.readings.pop(0) if len(self.readings) > 1 else self.readings[0]
        return {
            "status": {
                "chamber_s": 1000.0,
                "sensors": [
                    {
                        "name": "room",
                        "value": value,
                        "quality": quality,
                        "age_s": 1000.0 - sampled_s,
                        "why": "no answer",
                    }
                ],
            }
        }


def test_a_kernel_file_is_read_directly_and_without_the_offset(bench: CalibrationBench) -> None:
    found = measure(read_settings(bench.config), AIR, readings=2)
    assert (found.mean, found.spread, found.readings) == (0.4, 0.0, 2)


def test_a_load_cell_gives_its_counts_though_it_was_never_calibrated(bench: CalibrationBench) -> None:
    assert measure(read_settings(bench.config), HOOK, readings=1).mean == 8000.0


def test_a_device_that_does_not_answer_is_told_with_the_reason(
    bench: CalibrationBench, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "PATIENCE_S", 0.6)
    bench.tree.iio(1, "other")
    (bench.tree.root / "bus/iio/devices/iio:device1/label").unlink()
    with pytest.raises(NoReading, match=r"0 readings of 1 in 0.6 s \(not there\).*devices.cell-1"):
        measure(read_settings(bench.config), HOOK, readings=1)


def test_what_the_daemon_holds_is_read_through_it_each_reading_once_and_without_the_offset(
    bench: CalibrationBench, monkeypatch: pytest.MonkeyPatch
) -> None:
    told = Telling(
        (20.5, "fresh", 990.0),
        (20.5, "fresh", 990.0),
        (20.5, "fresh", 990.04),
        (20.7, "fresh", 992.0),
        (20.9, "stale", 994.0),
        (None, "failed", 994.0),
        (20.9, "fresh", 996.0),
    )
    monkeypatch.setattr(module, "ask", told)
    told.readings.insert(0, (20.5, "fresh", 990.0))  # the look whether a daemon is there
    found = measure(read_settings(bench.config), ROOM, readings=3)
    assert found.mean == pytest.approx(20.2)
    assert found.spread == pytest.approx(0.2)


def test_a_scale_that_the_daemon_holds_is_not_fought_over(
    bench: CalibrationBench, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "ask", Telling((20.5, "fresh", 990.0)))
    platform = Subject(name="rack", device="sim", kind="nau7802", reads="counts", is_sensor=False)
    with pytest.raises(NoReading, match=r"read by the running daemon.*Stop that"):
        measure(read_settings(bench.config), platform, readings=1)


def test_a_sensor_that_the_daemon_does_not_know_is_told(
    bench: CalibrationBench, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "ask", Telling((20.5, "fresh", 990.0)))
    with pytest.raises(NoReading, match="start it again"):
        measure(
            read_settings(bench.config),
            Subject(name="new", device="room", kind="dht22", reads="temperature"),
            readings=1,
        )
