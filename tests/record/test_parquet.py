"""Parquet: typed columns, whole runs in pieces, a clear word where the library is missing.

pyarrow is too big for the test extra (170 MB). Here a stand-in notes what it is given; ``python -m tests.bench.parquet``
reads real files back and compares every row.
"""

from __future__ import annotations

import sys
from datetime import UTC, datetime
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from dryward.record import parquet as module
from dryward.record.export import rows
from dryward.record.lines import NoSuchRun
from dryward.record.parquet import TEXT, WHOLE, NoArrow, write_parquet
from dryward.record.queries import Record
from tests.record.batch import write_batch


class Writer:
    """Stands in for ParquetWriter."""

    made: dict[str, Writer]

    def __init__(self, path: str, schema: list[tuple[str, str]], *, compression: str) -> None:
        self.schema = dict(schema)
        self.parts: list[list[dict[str, Any]]] = []
        self.closed = False
        Writer.made[Path(path).name] = self
        Path(path).write_text("")

    def write_table(self, rows: list[dict[str, Any]]) -> None:
        self.parts.append(rows)

    def close(self) -> None:
        self.closed = True


@pytest.fixture
def arrow(monkeypatch: pytest.MonkeyPatch) -> dict[str, Writer]:
    """Put a stand-in in the place of the library; return the files it made."""
    Writer.made = {}
    stand_in = SimpleNamespace(
        schema=lambda fields: fields,
        timestamp=lambda unit, tz: f"timestamp {unit} {tz}",
        string=lambda: "string",
        int64=lambda: "int64",
        float64=lambda: "float64",
        Table=SimpleNamespace(from_pylist=lambda rows, schema: rows),
    )
    monkeypatch.setitem(sys.modules, "pyarrow", stand_in)
    monkeypatch.setitem(sys.modules, "pyarrow.parquet", SimpleNamespace(ParquetWriter=Writer))
    return Writer.made


@pytest.fixture
def path(tmp_path: Path) -> Path:
    write_batch(tmp_path / "r.db")
    return tmp_path / "r.db"


def test_without_the_library_it_says_how_to_get_it(path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    with Record(path) as record, pytest.raises(NoArrow, match=r"pip install 'dryward\[parquet\]'.*--csv"):
        write_parquet(record, "r1", tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_every_row_is_written_in_pieces_and_every_file_closed(
    path: Path, tmp_path: Path, arrow: dict[str, Writer], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "PIECE_ROWS", 500)
    with Record(path) as record:
        counts = write_parquet(record, "r1", tmp_path / "out")
        wanted = [table for table, _ in rows(record, "r1")]
    assert {f"{table}.parquet": wanted.count(table) for table in set(wanted)} == {
        name: sum(map(len, one.parts)) for name, one in arrow.items()
    }
    assert counts == {name.removesuffix(".parquet"): sum(map(len, one.parts)) for name, one in arrow.items()}
    assert max(len(part) for one in arrow.values() for part in one.parts) == 500
    assert all(one.closed for one in arrow.values())


@pytest.mark.usefixtures("arrow")
def test_on_a_full_disk_no_half_of_a_run_is_left(path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> None:
        raise OSError("No space left on device")

    monkeypatch.setattr(Writer, "write_table", full)
    with Record(path) as record, pytest.raises(OSError, match="No space"):
        write_parquet(record, "r1", tmp_path / "out")
    assert list((tmp_path / "out").iterdir()) == []


def test_a_column_has_its_type_whatever_the_run_holds(path: Path, tmp_path: Path, arrow: dict[str, Writer]) -> None:
    with Record(path) as record:
        write_parquet(record, "r1", tmp_path / "out")
    readings = arrow["reading.parquet"]
    assert readings.schema == {"utc": "timestamp ms UTC", "run_s": "float64", "air [degC]": "float64", "top [degC]": "float64", "damp [pctRH]": "float64", "hook [g]": "float64"}  # fmt: skip
    assert readings.parts[0][0]["utc"] == datetime(2025, 10, 9, 8, 53, 20, tzinfo=UTC)
    for one in arrow.values():
        for part in one.parts:
            for row in part:
                for head, value in row.items():
                    fits = {"string": str, "int64": int, "timestamp ms UTC": datetime}.get(
                        one.schema[head], (int, float)
                    )
                    assert value is None or isinstance(value, fits), (head, value)  # type: ignore[arg-type]


def test_every_column_of_the_export_is_known_here(path: Path) -> None:
    """A new column of words would else be written as a number, and fail."""
    with Record(path) as record:
        for table, row in rows(record, "r1"):
            for head, value in row.items():
                if isinstance(value, str) and not head.endswith("utc"):
                    assert head in TEXT, (table, head)
    assert not TEXT & WHOLE


def test_anonymous_files_hold_no_name(path: Path, tmp_path: Path, arrow: dict[str, Writer]) -> None:
    with Record(path) as record:
        write_parquet(record, "r1", tmp_path / "out", anonymous=True)
    said = repr([(one.schema, one.parts) for one in arrow.values()])
    for name in ("loin", "'ann'", "shed-box", "r1", "two-step", "window.bad"):
        assert name not in said
    assert "note.parquet" not in arrow


def test_nothing_is_written_over_and_an_unknown_run_is_named(
    path: Path, tmp_path: Path, arrow: dict[str, Writer]
) -> None:
    with Record(path) as record:
        write_parquet(record, "r1", tmp_path / "out")
        with pytest.raises(FileExistsError, match=r"run\.parquet"):
            write_parquet(record, "r1", tmp_path / "out")
        with pytest.raises(NoSuchRun):
            write_parquet(record, "nope", tmp_path / "other")
