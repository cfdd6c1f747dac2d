"""``check`` as a person runs it."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from dryward.doors.cli import main
from dryward.service.check import CAUTIONS
from tests.faults_live.stand import Stand, write_chamber


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    write_chamber(tmp_path)
    return tmp_path


def check(folder: Path, *words: str, answers: str = "") -> Result:
    return CliRunner().invoke(main, ["check", "--config", str(folder / "chamber.toml"), *words], input=answers)


def program(folder: Path, air_c: float) -> str:
    path = folder / "try.toml"
    path.write_text(f'name = "try"\ncap_h = 9\n[[steps]]\nname = "hot"\nair_c = {air_c}\nends = {{ dwell_h = 5 }}\n')
    return str(path)


def test_a_sound_chamber_passes_with_the_cautions(folder: Path) -> None:
    result = check(folder, "--program", program(folder, 70.0))
    assert result.exit_code == 0, result.output
    assert "PASS  program    step hot, 70 degC" in result.output
    assert "FAIL" not in result.output
    assert all(caution in result.output for caution in CAUTIONS)
    assert not (folder / "run").exists()  # looking switches nothing and claims nothing


def test_a_program_the_chamber_cannot_do_ends_with_1(folder: Path) -> None:
    result = check(folder, "--program", program(folder, 120.0))
    assert result.exit_code == 1
    assert "FAIL  program" in result.output
    assert "cure:" in result.output
    assert "no meat" in result.output


@pytest.mark.parametrize("broken", ["chamber", "program"])
def test_every_mistake_of_a_file_is_a_line(folder: Path, broken: str) -> None:
    path = folder / ("chamber.toml" if broken == "chamber" else "try.toml")
    program(folder, 70.0)
    path.write_text(path.read_text() + "\nodd = 1\n[strange]\nx = 2\n")
    result = check(folder, "--program", str(folder / "try.toml"))
    assert result.exit_code == 1
    assert f"FAIL  {'config' if broken == 'chamber' else 'program'}" in result.output
    assert "strange" in result.output


def test_json_holds_the_same(folder: Path) -> None:
    result = check(folder, "--json")
    told = json.loads(result.output)
    assert (told["failed"], result.exit_code) == (0, 0)
    assert {f["verdict"] for f in told["findings"]} <= {"pass", "warn"}
    assert told["cautions"] == list(CAUTIONS)


def test_a_running_daemon_is_asked_and_keeps_its_outputs(folder: Path) -> None:
    with Stand(folder) as stand:
        stand.start_ready()
        result = check(folder, "--click", "--kill-test", "--yes")
    assert "PASS  daemon" in result.output
    assert "PASS  sensor     air (control-air)" in result.output
    assert result.output.count("Stop the daemon first") == 2
    assert result.exit_code == 1


def test_nothing_is_switched_before_a_person_agrees(folder: Path) -> None:
    result = check(folder, "--click", "--kill-test", answers="n\nn\n")
    assert result.output.count("you said no") == 2
    assert not (folder / "run").exists()
    assert result.exit_code == 0


def test_a_person_says_what_switched(folder: Path) -> None:
    result = check(folder, "--click", answers="y\ny\nn\ny\n")
    assert result.exit_code == 1
    assert "FAIL  click      vent (gpio 23): the line switched, you saw nothing switch" in result.output
    assert "PASS  click      heater (gpio 17): switched on and off" in result.output


def test_a_dead_daemons_socket_is_no_daemon(folder: Path) -> None:
    with Stand(folder) as stand:
        service = stand.start_ready()
        service.process.kill()
        service.process.wait()
        assert stand.socket.exists()
        result = check(folder)
    assert "  daemon  " not in result.output
    assert "PASS  sensor     air" in result.output  # read here
    assert result.exit_code == 0


def test_an_old_calibration_is_a_warning_with_its_cure(folder: Path) -> None:
    utc = (datetime.now(UTC) - timedelta(days=400)).isoformat(timespec="seconds")
    air = {"line": "result", "utc": utc, "who": "ben", "kind": "thermometer", "name": "air", "device": "twin"}
    (folder / "record.calibrations.jsonl").write_text(json.dumps({**air, "calibration": "air-1"}) + "\n")
    told = json.loads(check(folder, "--json").stdout)
    (found,) = (f for f in told["findings"] if f["name"] == "calibrated")
    assert found["verdict"] == "warn"
    assert found["text"].startswith("calibration air-1 of air: 400 days old")
    assert found["cure"] == "Do it again with 'dryward calibrate thermometer air'."
