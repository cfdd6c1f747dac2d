"""``dryward calibrate`` as people and scripts use it, on kernel files that stand for the real ones."""

from __future__ import annotations

import json
import tomllib
from dataclasses import replace
from pathlib import Path

import pytest

from dryward.core.chamber import Scale
from dryward.core.inputs import Inputs, Reading
from dryward.doors.calibration_book import Entry
from dryward.record.moments import ScaleCalibration, Session
from dryward.record.writer import RecordWriter
from dryward.settings import read_settings
from tests.doors.calibration_bench import CalibrationBench, bench_in
from tests.record.scene import CHAMBER, began, put, stamp


@pytest.fixture
def bench(tmp_path: Path) -> CalibrationBench:
    return bench_in(tmp_path)


POINTS = (
    "--point",
    "0=8000",
    "--point",
    "500=58000",
    "--point",
    "1000=108010",
    "--point",
    "2000=207990",
    "--point",
    "1000=107995",
    "--point",
    "0=8004",
)


def test_a_scale_is_calibrated_from_points_that_were_written_down(bench: CalibrationBench) -> None:
    result = bench.run("scale", "hook-1", *POINTS, "--finish", "--who", "anna")
    assert result.exit_code == 0, result.output
    assert "6 points, by anna" in result.output
    assert "Linearity: 0.04 g, 0.002 % of 2000 g" in result.output
    assert "OIML R 76 allows a class III scale with e = 0.2 g" in result.output
    (entry,) = bench.book.results()
    assert entry.values["g_per_count"] == pytest.approx(0.01, rel=1e-4)
    assert entry.who == "anna"


def test_what_is_printed_can_be_put_into_the_chamber_file_and_then_the_scale_weighs(bench: CalibrationBench) -> None:
    output = bench.run("scale", "hook-1", *POINTS, "--finish").output
    table = output[output.index("[devices.cell-1]") :].partition("\n\n")[0]
    lines = tomllib.loads(table)["devices"]["cell-1"]
    bench.chamber("\n".join(table.splitlines()[1:]))
    (device,) = [d for d in read_settings(bench.config).devices if d.name == "cell-1"]
    assert device.options["calibration"] == bench.book.results()[0].calibration
    assert (108_003 - lines["zero_count"]) * lines["g_per_count"] == pytest.approx(1000.0, abs=0.1)


def test_a_walk_is_broken_off_and_gone_on(bench: CalibrationBench) -> None:
    """One point a call, as a script does; the last draws the result from all of them."""
    assert bench.run("scale", "hook-1", "--point", "0=8000").exit_code == 0
    early = bench.run("scale", "hook-1", "--finish")
    assert early.exit_code == 1
    assert "one load only" in early.output
    assert "1 point so far is kept" in early.output
    assert bench.run("scale", "hook-1", "--point", "1000=108000").exit_code == 0
    assert "2 points" in bench.run("scale", "hook-1", "--finish").output
    assert (
        "one load only" not in bench.run("scale", "hook-1", "--point", "0=1", "--point", "10=5000", "--finish").output
    )


def test_the_guided_walk_measures_asks_and_says_what_it_did(bench: CalibrationBench) -> None:
    """The thermometer stands in ice (0.4 shown, as the file says); the boiling reference is typed as a point before."""
    assert bench.run("thermometer", "air", "--point", "boiling=97.9").exit_code == 0
    result = bench.run(
        "thermometer", "air", "--readings", "1", "--at", "80", "--who", "anna", typed="ice\nwarm\n200\n\ny\n"
    )
    assert result.exit_code == 0, result.output
    assert "MIND STEAM AND SCALDING WATER" in result.output
    assert "Going on with 1 point since" in result.output
    assert "0 degC shows 0.4" in result.output
    assert "Not taken: 'warm' is no figure; type ice, boiling, or degC" in result.output
    assert "Not taken: another thermometer is 200.0 degC; air is rated -40 to 125 degC" in result.output
    boiling_c = 98.18  # water at 95 kPa (steam tables)
    at_80 = -0.4 + (boiling_c - 97.9 + 0.4) * (80.0 - 0.4) / (97.9 - 0.4)
    offset = float(result.output.rpartition("offset = ")[2].split()[0])
    assert offset == pytest.approx(at_80, abs=0.02)


def test_breaking_off_the_guided_walk_keeps_its_points(bench: CalibrationBench) -> None:
    bench.run("thermometer", "air", "--readings", "1", typed="ice\n\nn\n")
    assert len(bench.book.entries) == 1
    assert not bench.book.results()
    assert bench.run("thermometer", "air", "--finish").exit_code == 0


def test_a_humidity_sensor_is_compared_with_salt_jars(bench: CalibrationBench) -> None:
    result = bench.run(
        "humidity",
        "humidity",
        "--take",
        "NaCl@20",
        "--readings",
        "1",
        "--point",
        "mgcl2@20=32.0",
        "--at",
        "73",
        "--finish",
    )
    assert result.exit_code == 0, result.output
    assert "offset = 2.50" in result.output, "75.5 %RH over NaCl at 20 degC, 73.0 shown"


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (["scale", "hook-9"], "no scale called hook-9. Known: hook-1, rack"),
        (["thermometer", "humidity"], "no sensor of this kind called humidity. Known: air, room"),
        (["scale", "hook-1", "--point", "6000=1"], "not between 0 and 5000 g"),
        (["scale", "hook-1", "--point", "x=1"], "'x' is no figure"),
        (["scale", "hook-1", "--point", "500"], "write REFERENCE=SHOWN"),
        (["humidity", "humidity", "--point", "LiCl@20=11"], "use one of MgCl2"),
        (["humidity", "humidity", "--point", "NaCl@95=70"], "between 10 and 80"),
        (["thermometer", "room", "--point", "boiling=98"], "room is rated -40 to 80 degC"),
        (["thermometer", "air", "--altitude-m", "9000", "--point", "boiling=98"], "between -500 and 5000 m"),
        (["thermometer", "air", "--finish"], "there is no point yet"),
        (["recompute", "500", "--from", "a", "--to", "b"], "no calibration of a scale called b"),
    ],
)
def test_what_cannot_be_is_refused_with_the_reason(bench: CalibrationBench, words: list[str], why: str) -> None:
    result = bench.run(*words)
    assert result.exit_code != 0
    assert why in " ".join(result.output.split())


def test_fresh_forgets_the_points_of_a_walk_that_was_broken_off(bench: CalibrationBench) -> None:
    bench.run("thermometer", "air", "--point", "0=15")
    output = bench.run("thermometer", "air", "--fresh", "--point", "0=0.2", "--finish").output
    assert "1 point, by" in output
    assert "offset = -0.20" in output


def test_the_altitude_moves_the_boiling_point(bench: CalibrationBench) -> None:
    """Water boils at 93.3 degC at 2000 m (steam tables at 79.5 kPa)."""
    found = json.loads(
        bench.run("thermometer", "air", "--altitude-m", "2000", "--point", "boiling=93.3", "--finish", "--json").stdout
    )
    assert found["offset"] == pytest.approx(0.0, abs=0.06)


def test_the_history_lists_results_and_names_old_ones(bench: CalibrationBench) -> None:
    assert "Nothing has been calibrated yet." in bench.run("history").output
    bench.run("scale", "hook-1", *POINTS, "--finish", "--who", "anna")
    bench.book.add(
        Entry(
            line="result",
            utc="2020-02-01T10:00:00+00:00",
            who="ben",
            kind="thermometer",
            name="air",
            device="top",
            calibration="air-20200201",
            values={"offset": 0.5},
        )
    )
    listed = bench.run("history")
    assert "hook-1-" in listed.output
    assert "+-0.2 g up to 2000 g" in listed.output
    assert "OLD: calibration air-20200201 of air" in listed.output
    assert "'dryward calibrate thermometer air'" in listed.output
    assert len(json.loads(bench.run("history", "--json").stdout)["results"]) == 2


def test_recorded_weights_are_read_under_a_newer_calibration(bench: CalibrationBench) -> None:
    """The same counts: 500 g at 0.01 g a count from 8000 is count 58 000; from 9000 at 0.02 it is 980 g."""
    bench.run("scale", "hook-1", "--point", "0=8000", "--point", "1000=108000", "--finish")
    bench.run("scale", "hook-1", "--point", "0=9000", "--point", "1000=59000", "--finish")
    older, newer = (entry.calibration for entry in bench.book.results())
    assert older != newer
    assert "500 g -> 980.00 g" in bench.run("recompute", "500", "--from", older, "--to", newer).output


def recorded(bench: CalibrationBench, counts: list[int]) -> None:
    """Write a run in which hook-1 counted so, weighed by 0.01 g a count from 8000 under the name 'old'."""
    cell = ScaleCalibration(scale="hook-1", calibration="old", zero_count=8000.0, g_per_count=0.01)
    chamber = replace(CHAMBER, scales=(Scale(name="hook-1", device="cell-1"),))
    session = Session(chamber=chamber, first_tick=0, stamp=stamp(0), scale_calibrations=(cell,))
    book = RecordWriter(bench.folder / "record.db", session, threaded=False)
    put(book, 0, marks=[began()])
    for tick, count in enumerate(counts, start=1):
        put(book, tick, Inputs(readings=(Reading("hook-1", (count - 8000.0) * 0.01, float(tick)),)))
    book.close()


def test_a_runs_weights_are_read_under_a_newer_calibration_from_their_raw_counts(bench: CalibrationBench) -> None:
    recorded(bench, [58_000, 57_777])
    bench.run("scale", "hook-1", "--point", "0=9000", "--point", "1000=59000", "--finish")
    (newer,) = (entry.calibration for entry in bench.book.results())
    result = bench.run("recompute", "--run", "r1", "--scale", "hook-1", "--to", newer)
    assert result.output.splitlines() == [
        "utc,counts,calibration,weight_g,weight_g_now",
        "2025-10-09T08:53:21.000Z,58000,old,500.00,980.00",
        "2025-10-09T08:53:22.000Z,57777,old,497.77,975.54",
    ]
    none = bench.run("recompute", "--run", "r1", "--scale", "rack", "--to", newer)
    assert none.exit_code == 1
    assert "no raw counts of rack" in none.output
    assert bench.run("recompute", "--run", "nope", "--scale", "hook-1", "--to", newer).exit_code == 1


@pytest.mark.parametrize("words", [["500"], ["--from", "a"], ["--run", "r1"], ["500", "--run", "r1", "--scale", "x"]])
def test_recompute_wants_either_weights_or_a_run(bench: CalibrationBench, words: list[str]) -> None:
    bench.run("scale", "hook-1", "--point", "0=9000", "--point", "1000=59000", "--finish")
    (newer,) = (entry.calibration for entry in bench.book.results())
    result = bench.run("recompute", *words, "--to", newer)
    assert result.exit_code == 2
    assert "Give WEIGHTS and --from, or --run and --scale." in result.output
