"""``dryward status``: text for people, JSON for programs, from the newest view without waiting for a tick."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from dryward.doors.status import finish, pieces, text
from dryward.service.serve import Daemon
from tests.doors.conftest import Command


def test_an_idle_chamber_says_what_to_do(command: Command, daemon: Daemon) -> None:
    result = command("status")
    assert result.exit_code == 0
    assert "IDLE" in result.output
    assert "dryward load" in result.output


def test_json_holds_what_the_text_shows(command: Command, chamber_file: Path, daemon: Daemon) -> None:
    command("load", str(chamber_file.with_name("batch.toml")))
    command("start", str(chamber_file.with_name("program.toml")))
    snapshot = json.loads(command("status", "--json").output)
    assert snapshot["run"]["phase"] == "running"
    assert [p["name"] for p in snapshot["pieces"]] == ["loin-1", "loin-2", "neck-1", "neck-2"]
    assert snapshot["pieces"][0]["target_g"] == pytest.approx(588.25)


def test_without_a_daemon_it_says_how_to_start_one(command: Command) -> None:
    result = command("status")
    assert result.exit_code == 1
    assert "dryward serve" in result.output


def test_every_line_fits_eighty_columns_but_for_sentences(command: Command, chamber_file: Path, daemon: Daemon) -> None:
    command("load", str(chamber_file.with_name("batch.toml")))
    for line in command("status").output.splitlines():
        assert len(line) <= 80 or line.endswith(".")


def snapshot(**changes: Any) -> dict[str, Any]:
    whole: dict[str, Any] = {
        "chamber": "shed", "utc": "2026-01-01T00:00:00Z", "chamber_s": 10.0,
        "run": {"phase": "held", "run_id": "r1", "program": "p", "why": "tripped: air-lost", "step": "one", "step_number": 1,
                "steps": 2, "keeping_warm": False, "step_h": 1.0, "dwell_h": 0.5, "dwell_wanted_h": 24.0, "in_band": False, "elapsed_h": 1.2},
        "air": {"air_c": 61.2, "quality": "stale", "target_c": 80.0, "setpoint_c": 80.0, "rh_pct": None},
        "sensors": [], "outputs": {"heater": False, "fan": True}, "duty": 0.0, "no_heat": "tripped: air-lost",
        "energy_kwh": 1.0, "operations": {}, "pieces": [], "meat": [], "planned": [], "next": "Look at the sensor.",
        "record": {"ok": False, "why": "disk full", "waiting": 12, "lost": 0},
        "alarms": [{"key": "air-lost", "phase": "active", "trip": True, "minutes": 3.0, "happened": "It is gone.",
                    "meaning": "The heat is off.", "advice": "Look.", "acked_by": "Ines"}],
    }  # fmt: skip
    return whole | changes


def test_a_trip_is_explained_in_three_lines() -> None:
    said = text(snapshot())
    assert "TRIP air-lost (active, 3 min, seen by Ines)\n  It is gone.\n  The heat is off.\n  Look." in said


def test_a_reading_that_is_not_fresh_is_marked() -> None:
    assert "61.2 degC (stale)" in text(snapshot())


def test_no_energy_has_no_minus() -> None:
    assert " 0.00 kWh so far" in text(snapshot(energy_kwh=-0.001))


def test_a_record_that_fails_is_said() -> None:
    assert "RECORD: disk full (12 readings wait, 0 lost)" in text(snapshot())


def test_a_cleared_alarm_is_named_until_it_is_acknowledged() -> None:
    alarm = snapshot()["alarms"][0] | {"phase": "cleared", "trip": False, "key": "door-open"}
    said = text(snapshot(alarms=[alarm, alarm | {"key": "sensor-missing", "subject": "core"}]))
    assert "Over, not acknowledged: door-open, sensor-missing (core). 'dryward ack'" in said


def test_a_loaded_batch_waits_for_its_planned_start() -> None:
    """Whoever is told to start it would start it twice."""
    at = datetime.now(UTC).replace(hour=12, minute=0, second=0, microsecond=0)
    idle = snapshot()["run"] | {"phase": "idle"}
    plan = {"program": "hot", "at_utc": at.isoformat(), "who": "Ana"}
    shown = {"weight_g": None, "loss_pct": None}
    waits = snapshot(run=idle, planned=[plan], pieces=[drying(**shown)], alarms=[])
    assert f"Next: Nothing until {at.astimezone():%H:%M}: then hot begins by itself." in text(waits)
    assert "Next: Look at the sensor." in text(waits | {"planned": []})
    assert "Next: Look at the sensor." in text(waits | {"pieces": []})


def drying(**more: Any) -> dict[str, Any]:
    return {"name": "a", "green_g": 900.0, "weight_g": 700.0, "loss_pct": 22.2, "target_g": 585.0, "status": "drying"} | more  # fmt: skip


def test_a_forecast_is_said_by_the_local_clock_with_its_span() -> None:
    at = datetime.now(UTC).replace(hour=12, minute=0, second=0, microsecond=0)
    times = {"finish_utc": at, "finish_lo_utc": at - timedelta(minutes=30), "finish_hi_utc": at + timedelta(days=2)}
    told = finish(drying(**{name: t.isoformat() for name, t in times.items()}))
    noon, soon, far = (t.astimezone() for t in (at, at - timedelta(minutes=30), at + timedelta(days=2)))
    assert told == f"{noon:%H:%M} ({soon:%H:%M} to {far:%a %H:%M})"
    assert finish(drying(finish_utc=at.isoformat(), finish_lo_utc=at.isoformat(), finish_hi_utc=None)).endswith(
        "to perhaps never)"
    )


def test_never_is_said_plainly_and_what_is_not_known_is_explained_once() -> None:
    assert finish(drying(finish_never=True, finish_lo_utc=None)) == "not with this program"
    assert finish(drying(status="done", finish_never=True, finish_lo_utc=None)) == ""
    early = drying(finish_utc=None, finish_never=False, forecast_why="too early")
    shown = pieces({"pieces": [early, early | {"name": "b"}]})
    assert shown.count("No forecast yet: too early.") == 1
    assert "Ready" not in shown


def test_what_is_to_be_said_of_calibrations_is_said() -> None:
    shown = text(snapshot(calibrations=["calibration a of hook-1: 91 days old. Do it again."]))
    assert "Calibration: calibration a of hook-1: 91 days old. Do it again." in shown
