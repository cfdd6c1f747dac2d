"""``demo`` and ``rehearse``: whole runs from the command line."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from dryward.doors.cli import main
from dryward.record.queries import Record
from tests.record.scene import writer

QUICK = """
name = "quick"
cap_h = 30
[[steps]]
name = "warm"
air_c = 60
[steps.ends]
dwell_h = 1
[[steps]]
name = "mild"
air_c = 50
[steps.ends]
dwell_h = 1
cap_h = 3
"""
BATCH = """
[[pieces]]
name = "small"
green_g = 300
target_loss_pct = 4
[[pieces]]
name = "big"
green_g = 900
target_loss_pct = 35
"""


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("quick")
    (folder / "quick.toml").write_text(QUICK)
    (folder / "batch.toml").write_text(BATCH)
    return folder


def rehearse(files: Path, *words: str) -> Result:
    return CliRunner().invoke(
        main, ["rehearse", str(files / "quick.toml"), "--pieces", str(files / "batch.toml"), *words]
    )


def test_a_rehearsal_tells_steps_pieces_energy_wear_and_warnings(files: Path) -> None:
    result = rehearse(files)
    assert result.exit_code == 0, result.output
    for word in ("warm", "mild", "small", "big", "kWh", "heater", "Short of their target: big"):
        assert word in result.output


def test_json_holds_the_same(files: Path) -> None:
    found = json.loads(rehearse(files, "--json").stdout)
    assert found["end"] == "complete"
    assert [s["name"] for s in found["steps"]] == ["warm", "mild"]
    for step in found["steps"]:
        assert step["end_s"] > step["start_s"]
        assert step["in_band_s"] is not None
        assert step["low_c"] <= step["high_c"]
    small, big = found["pieces"]
    assert small["finish_s"] is not None
    assert small["final_g"] == pytest.approx(288.0, abs=1.0)  # 4 % of 300 g
    assert big["finish_s"] is None
    assert found["energy_kwh"] > 0.5
    assert found["relay_operations"]["heater"] > 10
    assert any("Short" in w for w in found["warnings"])


def test_a_rehearsal_on_a_real_chamber_uses_its_limits(files: Path) -> None:
    CliRunner().invoke(main, ["init", str(files / "real"), "--kind", "dryer"])
    config = files / "real" / "chamber.toml"
    result = rehearse(files, "--config", str(config))
    assert result.exit_code == 0, result.output
    assert "commissioning = true: the rehearsal heats all the same" in result.stderr
    warm = result.stdout.split("\nwarm ")[1].splitlines()[0]
    assert "to" in warm.split()[-2:], warm  # the band was reached: '57.0 to 63.1', not '-'
    low = config.read_text().replace("max_air_c = 88", "max_air_c = 55")
    assert "max_air_c = 55" in low
    config.write_text(low)
    refused = rehearse(files, "--config", str(config))
    assert refused.exit_code == 1
    assert "at most 55 degC" in refused.output


def test_a_program_that_the_owners_own_sensors_cannot_serve_is_refused(files: Path, tmp_path: Path) -> None:
    CliRunner().invoke(main, ["init", str(tmp_path), "--kind", "dryer"])  # has no core probe; the simulated dryer has
    core = tmp_path / "core.toml"
    core.write_text(QUICK.replace("dwell_h = 1\ncap_h = 3", "core_c = 45\ncap_h = 3"))
    words = ["rehearse", str(core), "--pieces", str(files / "batch.toml"), "--config", str(tmp_path / "chamber.toml")]
    result = CliRunner().invoke(main, words)
    assert result.exit_code == 1
    assert 'needs a sensor with role = "core"' in result.output


def test_energy_is_not_known_where_no_power_is_written(files: Path, tmp_path: Path) -> None:
    CliRunner().invoke(main, ["init", str(tmp_path), "--kind", "dryer"])
    config = tmp_path / "chamber.toml"
    config.write_text("".join(line for line in config.open() if not line.startswith("power_w")))
    result = rehearse(files, "--config", str(config))
    assert "Energy not known" in result.output
    assert "0.0 kWh" not in result.output


def test_a_file_that_is_no_record_is_left_as_it_is(files: Path, tmp_path: Path) -> None:
    mine = tmp_path / "notes.txt"
    mine.write_text("mine, and not a record\n")
    result = rehearse(files, "--record", str(mine))
    assert result.exit_code == 1
    assert "no record" in result.output
    assert [p.name for p in tmp_path.iterdir()] == ["notes.txt"]
    assert mine.read_text() == "mine, and not a record\n"


def test_a_record_of_a_newer_version_is_left_as_it_is(files: Path, tmp_path: Path) -> None:
    newer = tmp_path / "newer.db"
    writer(newer).close()
    with closing(sqlite3.connect(newer)) as conn:
        conn.execute("PRAGMA user_version = 99")
    before = newer.read_bytes()
    result = rehearse(files, "--record", str(newer))
    assert result.exit_code == 1
    assert "newer dryward" in result.output
    assert newer.read_bytes() == before


def test_the_record_of_the_chamber_itself_takes_no_rehearsal(files: Path, tmp_path: Path) -> None:
    CliRunner().invoke(main, ["init", str(tmp_path), "--kind", "dryer"])
    config = tmp_path / "chamber.toml"
    config.write_text(config.read_text().replace("/var/lib/dryward/record.db", "record.db"))
    result = rehearse(files, "--config", str(config), "--record", str(tmp_path / "record.db"))
    assert result.exit_code == 1
    assert "pass for real meat" in result.output
    assert not (tmp_path / "record.db").exists()


def test_a_second_rehearsal_in_a_record_is_a_run_of_its_own(files: Path, tmp_path: Path) -> None:
    for _ in range(2):
        assert rehearse(files, "--record", str(tmp_path / "tried.db")).exit_code == 0
    with Record(tmp_path / "tried.db") as record:
        assert {r.run_id: r.end_state for r in record.runs()} == {"rehearsal": "complete", "rehearsal-2": "complete"}


def test_the_demo_overwrites_nobodys_files(tmp_path: Path) -> None:
    (tmp_path / "chamber.toml").write_text("mine")
    result = CliRunner().invoke(main, ["demo", "--folder", str(tmp_path)])
    assert result.exit_code == 1
    assert "chamber.toml of its own" in result.output
    assert [p.name for p in tmp_path.iterdir()] == ["chamber.toml"]
    assert (tmp_path / "chamber.toml").read_text() == "mine"


def test_a_program_with_mistakes_is_refused_with_all_of_them(files: Path, tmp_path: Path) -> None:
    wrong = tmp_path / "wrong.toml"
    wrong.write_text(QUICK.replace("dwell_h = 1\ncap_h = 3", "").replace("air_c = 60", 'air_c = "hot"'))
    result = CliRunner().invoke(main, ["rehearse", str(wrong), "--pieces", str(files / "batch.toml")])
    assert result.exit_code == 1
    assert "air_c" in result.output
    assert "ends" in result.output


def test_the_demo_leaves_a_record_that_can_be_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The demo itself, on a small batch so that it is quick: the same command, folder and record."""
    import dryward.settings.starter as starter

    files = starter.starter_files("twin") | {"program.toml": QUICK, "batch.toml": BATCH}
    monkeypatch.setattr(starter, "starter_files", lambda kind: files)
    result = CliRunner().invoke(main, ["demo", "--folder", str(tmp_path)])
    assert result.exit_code == 0, result.output
    assert "small is done: 2" in result.output
    with Record(tmp_path / "record.db") as record:
        assert [r.run_id for r in record.runs()] == ["demo-1"]
    again = CliRunner().invoke(main, ["demo", "--folder", str(tmp_path)])
    assert "demo-2" in again.output
    with Record(tmp_path / "record.db") as record:
        assert {r.run_id: r.end_state for r in record.runs()} == {"demo-1": "complete", "demo-2": "complete"}
    shown = CliRunner().invoke(main, ["runs", "--record", str(tmp_path / "record.db")])
    assert "demo-1" in shown.output
    review = CliRunner().invoke(main, ["review", "demo-1", "--record", str(tmp_path / "record.db")])
    assert review.exit_code == 0
    assert "small" in review.output
    replayed = CliRunner().invoke(main, ["replay", "demo-1", "--record", str(tmp_path / "record.db")])
    assert replayed.exit_code == 0
    assert "every decision the same" in replayed.output
