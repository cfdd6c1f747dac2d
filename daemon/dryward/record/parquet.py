"""A run as Parquet files, one a table, for programs that calculate with whole columns. Needs pyarrow, which is not installed by itself.

Every column has one type, whatever the run holds: times are UTC timestamps, names and words text, everything else
numbers. Rows are written in pieces of some thousands, so that a month fits into little memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import ExitStack
from datetime import datetime
from importlib import import_module
from pathlib import Path
from typing import Any

from dryward.record.export import Row, columns_of, rows, whole_or_none
from dryward.record.queries import Record

PIECE_ROWS = 20_000
TEXT = frozenset(
    [
        "run",
        "program",
        "chamber",
        "end",
        "end_reason",
        "step",
        "piece",
        "cut",
        "who",
        "how",
        "output",
        "severity",
        "kind",
        "subject",
        "text",
        "meaning",
        "advice",
        "photo",
        "tags",
        "channel",
        "unit",
        "figure",
    ]
)
WHOLE = frozenset({"on", "good", "failed"})


class NoArrow(Exception):
    """pyarrow is not installed; the text says how to get it."""


def write_parquet(record: Record, run_id: str, folder: Path, *, anonymous: bool = False) -> dict[str, int]:
    """Write one Parquet file a table into ``folder``; return the rows of each. Raises NoArrow, NoSuchRun, FileExistsError for a file that is there."""
    arrow, parquet = _arrow()
    readings = columns_of(record, run_id, anonymous=anonymous)
    folder.mkdir(parents=True, exist_ok=True)
    counts: dict[str, int] = {}
    waiting: dict[str, list[Row]] = {}
    with whole_or_none() as begun, ExitStack() as files:
        tables: dict[str, _File] = {}
        for table, row in rows(record, run_id, anonymous=anonymous):
            if table not in tables:
                heads = readings if table == "reading" else list(row)
                path = folder / f"{table}.parquet"
                if path.exists():
                    raise FileExistsError(17, "there already", str(path))
                begun.append(path)
                tables[table] = _File(arrow, parquet, path, heads, measured=table == "reading")
                files.callback(tables[table].close)
                waiting[table] = []
            waiting[table].append(row)
            counts[table] = counts.get(table, 0) + 1
            if len(waiting[table]) >= PIECE_ROWS:
                tables[table].write(waiting[table])
                waiting[table] = []
        for table, left in waiting.items():
            tables[table].write(left)
    return counts


class _File:
    def __init__(self, arrow: Any, parquet: Any, path: Path, heads: Sequence[str], *, measured: bool) -> None:
        self._arrow = arrow
        self._times = [h for h in heads if h.endswith("utc")]
        self._schema = arrow.schema([(h, _type(arrow, h, measured=measured)) for h in heads])
        self._writer = parquet.ParquetWriter(str(path), self._schema, compression="zstd")

    def write(self, part: Sequence[Row]) -> None:
        """Write rows; what a row does not have is null."""
        told = [row | {head: _moment(row.get(head)) for head in self._times} for row in part]
        self._writer.write_table(self._arrow.Table.from_pylist(told, schema=self._schema))

    def close(self) -> None:
        self._writer.close()


def _type(arrow: Any, head: str, *, measured: bool) -> Any:
    if head.endswith("utc"):
        return arrow.timestamp("ms", tz="UTC")
    if not measured and head in TEXT:
        return arrow.string()
    return arrow.int64() if not measured and head in WHOLE else arrow.float64()


def _moment(utc: Any) -> datetime | None:
    return None if not utc else datetime.fromisoformat(str(utc).replace("Z", "+00:00"))


def _arrow() -> tuple[Any, Any]:
    try:
        return import_module("pyarrow"), import_module("pyarrow.parquet")
    except ImportError as error:
        raise NoArrow(
            f"Parquet needs the library pyarrow, which is not installed here ({error}): pip install 'dryward[parquet]', "
            "about 170 MB; or take --csv or --jsonl, which need nothing."
        ) from error
