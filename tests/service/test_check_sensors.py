"""Sensors before a run: as a running daemon tells it, or read by the engine's own gate."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from dryward.service import check_sensors as module
from dryward.service.check_sensors import measured_here, told_by_daemon
from dryward.settings import Settings, read_settings
from tests.faults_live.stand import write_chamber

FAULTS = "seed = 1\n"


def chamber(folder: Path, faults: str = "") -> Settings:
    return read_settings(write_chamber(folder, change={FAULTS: FAULTS + (f"faults = [{faults}]\n" if faults else "")}))


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """Half a second instead of twenty: the twin answers at once or never."""
    monkeypatch.setattr(module, "LOOK_S", 0.5)
    monkeypatch.setattr(module, "PACE_S", 0.1)


def test_sensors_and_scales_that_answer_pass(tmp_path: Path) -> None:
    settings = chamber(tmp_path)
    found = list(measured_here(settings, ()))
    assert {f.verdict for f in found} == {"pass"}
    assert len(found) == len(settings.chamber.sensors) + len(settings.chamber.scales)
    told = "\n".join(f.text for f in found)
    assert "door (door): shut" in told
    assert "fan-turns (fan-feedback): standing still" in told
    assert "air (control-air): 2" in told  # 22 degC of the room, more or less


@pytest.mark.parametrize("kind", ["sensor-silent", "sensor-failed", "sensor-nan"])
def test_the_control_air_must_answer(tmp_path: Path, kind: str) -> None:
    settings = chamber(tmp_path, f'{{ at_s = 0.0, kind = "{kind}", channel = "air" }}')
    found = [f for f in measured_here(settings, ()) if f.verdict != "pass"]
    assert [(f.verdict, f.text.split(" ")[0]) for f in found] == [("fail", "air")]
    assert found[0].cure


def test_a_value_outside_the_rating_is_no_answer(tmp_path: Path) -> None:
    settings = chamber(tmp_path, '{ at_s = 0.0, kind = "sensor-value", value = 150.0, channel = "limit" }')
    assert [f.text.split(" ")[0] for f in measured_here(settings, ()) if f.verdict == "fail"] == ["limit"]


def test_what_no_heat_depends_on_is_a_warning_unless_the_program_needs_it(tmp_path: Path) -> None:
    settings = chamber(tmp_path, '{ at_s = 0.0, kind = "sensor-silent", channel = "humidity" }')
    assert [(f.verdict) for f in measured_here(settings, ()) if f.verdict != "pass"] == ["warn"]
    assert [(f.verdict) for f in measured_here(settings, {"humidity"}) if f.verdict != "pass"] == ["fail"]


def test_a_scale_that_is_silent_is_a_warning(tmp_path: Path) -> None:
    settings = chamber(tmp_path, '{ at_s = 0.0, kind = "sensor-silent", channel = "hook-2" }')
    assert [(f.verdict, f.name) for f in measured_here(settings, ()) if f.verdict != "pass"] == [("warn", "scale")]


def test_devices_that_do_not_open_are_all_named(tmp_path: Path) -> None:
    settings = chamber(tmp_path)
    broken = replace(
        settings, devices=tuple(replace(d, options={**d.options, "model": "toaster"}) for d in settings.devices)
    )
    (found,) = measured_here(broken, ())
    assert (found.name, found.verdict) == ("device", "fail")
    assert "toaster" in found.text


def status(settings: Settings, **more: Any) -> dict[str, Any]:
    sensors = [
        {"name": s.name, "value": 1.0, "quality": "fresh", "age_s": 1.0, "why": ""} for s in settings.chamber.sensors
    ]
    return {"sensors": sensors, "alarms": [], "record": {"ok": True, "why": ""}, **more}


def test_a_running_daemon_is_believed(tmp_path: Path) -> None:
    settings = chamber(tmp_path)
    assert {f.verdict for f in told_by_daemon(settings, (), status(settings))} == {"pass"}
    told = status(settings)
    told["sensors"][0] |= {"quality": "stale", "value": None, "age_s": None, "why": "no answer"}
    (bad,) = [f for f in told_by_daemon(settings, (), told) if f.verdict != "pass"]
    assert bad.verdict == "fail"
    assert "no answer" in bad.text


def test_a_sensor_the_daemon_does_not_know_means_start_it_again(tmp_path: Path) -> None:
    settings = chamber(tmp_path)
    told = status(settings)
    told["sensors"].pop()
    (bad,) = [f for f in told_by_daemon(settings, (), told) if f.verdict == "fail"]
    assert "Start it again" in bad.cure


def test_trips_and_a_failing_record_fail(tmp_path: Path) -> None:
    settings = chamber(tmp_path)
    alarms = [
        {"key": "air-lost", "trip": True, "happened": "gone", "advice": "look"},
        {"key": "door-open", "trip": False, "happened": "open", "advice": "shut it"},
    ]
    found = [
        f
        for f in told_by_daemon(settings, (), status(settings, alarms=alarms, record={"ok": False, "why": "disk full"}))
        if f.verdict == "fail"
    ]
    assert [(f.name, f.text) for f in found] == [("trip", "air-lost: gone"), ("record", "disk full")]
