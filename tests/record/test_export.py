"""Exports hold what the record holds, with units and UTC; anonymous ones name nobody."""

from __future__ import annotations

import csv
import errno
import json
import re
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from dryward.core.inputs import Inputs, Reading
from dryward.record.export import Row, rows, write_csv, write_lines
from dryward.record.lines import NoSuchRun
from dryward.record.moments import ScaleCalibration
from dryward.record.queries import Record
from tests.record.batch import NASTY, write_batch
from tests.record.scene import began, put, writer


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("export") / "r.db"
    write_batch(path)
    return path


def test_csv_has_every_reading_with_its_unit_in_the_heading(path: Path, tmp_path: Path) -> None:
    with Record(path) as record:
        counts = write_csv(record, "r1", tmp_path / "out")
    with (tmp_path / "out" / "reading.csv").open(newline="") as file:
        read = list(csv.DictReader(file))
    assert len(read) == counts["reading"] == 721
    assert read[0]["utc"] == "2025-10-09T08:53:20.000Z"
    assert float(read[0]["top [degC]"]) == 51.0
    assert float(read[-1]["damp [pctRH]"]) == 40.0
    with (tmp_path / "out" / "piece.csv").open(newline="") as file:
        assert [(p["piece"], p["last_g"]) for p in csv.DictReader(file)] == [("loin-a", "640.0"), ("loin-b", "700.0")]


def test_a_text_that_a_spreadsheet_would_run_is_defused_and_no_file_written_over(path: Path, tmp_path: Path) -> None:
    with Record(path) as record:
        write_csv(record, "r1", tmp_path)
        assert "'=tripped & over" in (tmp_path / "run.csv").read_text()
        with pytest.raises(FileExistsError):
            write_csv(record, "r1", tmp_path)


@pytest.mark.parametrize(("write", "name"), [(write_csv, ""), (write_lines, "r.jsonl")])
def test_an_export_that_does_not_come_to_its_end_leaves_no_half_of_a_run(
    path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, write: Callable[..., object], name: str
) -> None:
    def cut_off(*_: object, **__: object) -> Iterator[tuple[str, Row]]:
        yield "run", {"run": "r1"}
        yield "step", {"step": "warm"}
        raise OSError(errno.ENOSPC, "No space left on device")

    (tmp_path / "mine.txt").write_text("mine")
    monkeypatch.setattr("dryward.record.export.rows", cut_off)
    with Record(path) as record, pytest.raises(OSError, match="No space"):
        write(record, "r1", tmp_path / name)
    assert [file.name for file in tmp_path.iterdir()] == ["mine.txt"]


def test_a_file_that_was_there_stays_when_the_export_is_refused(path: Path, tmp_path: Path) -> None:
    (tmp_path / "span.csv").write_text("mine")
    with Record(path) as record, pytest.raises(FileExistsError):
        write_csv(record, "r1", tmp_path)
    assert [(file.name, file.read_text()) for file in tmp_path.iterdir()] == [("span.csv", "mine")]


def test_json_lines_hold_the_same_rows(path: Path, tmp_path: Path) -> None:
    with Record(path) as record:
        count = write_lines(record, "r1", tmp_path / "out.jsonl")
        lines = [json.loads(line) for line in (tmp_path / "out.jsonl").read_text().splitlines()]
        assert len(lines) == count == len(list(rows(record, "r1")))
    assert {line["table"] for line in lines} == {
        "run",
        "step",
        "piece",
        "weigh_in",
        "output",
        "event",
        "note",
        "reading",
        "figure",
        "span",
    }
    assert next(line for line in lines if line["table"] == "weigh_in")["weight_g"] == 700.0


def test_an_anonymous_export_names_nobody_and_no_time(path: Path, tmp_path: Path) -> None:
    with Record(path) as record:
        write_lines(record, "r1", tmp_path / "out.jsonl", anonymous=True)
        write_csv(record, "r1", tmp_path / "csv", anonymous=True)
    text = (tmp_path / "out.jsonl").read_text() + "".join(f.read_text() for f in (tmp_path / "csv").iterdir())
    for secret in ("loin-a", "loin", "ann", "shed-box", "two-step", "hook", "2025", NASTY[:10], "tripped", "r1"):
        assert not re.search(rf"\b{re.escape(secret)}\b", text), secret
    assert '"weight_g":700.0' in text
    assert "control-air-1 [degC]" in text
    assert "2000-01-01T00:00:00.000Z" in text


def test_an_unknown_run_is_named(path: Path) -> None:
    with Record(path) as record, pytest.raises(NoSuchRun, match="nope"):
        list(rows(record, "nope"))


def test_weights_of_a_load_cell_come_with_their_raw_counts_and_the_calibration(tmp_path: Path) -> None:
    cell = ScaleCalibration(scale="hook", calibration="hook-20310402", zero_count=8000.0, g_per_count=0.01)
    book = writer(tmp_path / "r.db", scale_calibrations=(cell,))
    put(book, 0, Inputs(readings=(Reading("hook", 400.0, 0.0),)), marks=[began()])
    put(book, 1, Inputs(readings=(Reading("air", 20.0, 1.0),)))
    put(book, 2, Inputs(readings=(Reading("hook", 500.0, 2.0),)))
    book.close()
    with Record(tmp_path / "r.db") as record:
        write_csv(record, "r1", tmp_path / "named")
        write_csv(record, "r1", tmp_path / "nobody", anonymous=True)
    with (tmp_path / "named" / "reading.csv").open(newline="") as file:
        read = list(csv.DictReader(file))
    assert [(r["hook [g]"], r["hook [counts]"]) for r in read] == [("400.0", "48000"), ("", ""), ("500.0", "58000")]
    with (tmp_path / "named" / "scale_calibration.csv").open(newline="") as file:
        (row,) = csv.DictReader(file)
    assert (row["scale"], row["calibration"], row["g_per_count"]) == ("hook", "hook-20310402", "0.01")
    hidden = "".join(f.read_text() for f in (tmp_path / "nobody").iterdir())
    assert "hook" not in hidden
    assert "2031" not in hidden
    assert "scale-1 [counts]" in hidden
