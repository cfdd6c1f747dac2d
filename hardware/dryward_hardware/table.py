"""CSV tables of recordings: rows with their numbers, times in any unit, mistakes told with every row they are in."""

from __future__ import annotations

import csv
import math
from datetime import UTC, datetime
from pathlib import Path
from typing import Literal

from dryward_hardware.ports import DeviceError

TimeUnit = Literal["s", "min", "h", "epoch-s", "rfc3339"]
SECONDS: dict[str, float] = {"s": 1.0, "min": 60.0, "h": 3600.0, "epoch-s": 1.0}
UNIT_BY_NAME: dict[str, TimeUnit] = {
    "t_s": "s",
    "t_min": "min",
    "t_h": "h",
    "epoch_s": "epoch-s",
    "time_utc": "rfc3339",
}
Row = tuple[int, list[str]]
"""Number of the row in the file (the header is row 1) and its cells."""


class Mistakes:
    """Mistakes of a file, rows of one kind together."""

    def __init__(self) -> None:
        self._rows: dict[tuple[str, str], list[int]] = {}
        self._first: dict[tuple[str, str], str] = {}

    def add(self, row: int, what: str, cure: str, found: object) -> None:
        """Note a mistake of ``row`` (the header is row 1); ``found`` is what stands there."""
        self._rows.setdefault((what, cure), []).append(row)
        self._first.setdefault((what, cure), repr(found))

    def __bool__(self) -> bool:
        return bool(self._rows)

    def told(self) -> str:
        """Return all of them in words, every row named."""
        return "; ".join(
            f"{what} in {'row' if len(rows) == 1 else 'rows'} {_ranges(rows)} (row {rows[0]}: {self._first[what, cure]}): {cure}"
            for (what, cure), rows in self._rows.items()
        )


def _ranges(rows: list[int]) -> str:
    """Return row numbers in words, neighbours joined: 3, 7-9."""
    parts: list[list[int]] = []
    for row in rows:
        if parts and row == parts[-1][-1] + 1:
            parts[-1] = [parts[-1][0], row]
        else:
            parts.append([row, row])
    return ", ".join(str(a) if a == b else f"{a}-{b}" for a, b in parts)


def seconds(text: str, unit: TimeUnit) -> float:
    """Return a time of the file in seconds; raises ValueError."""
    if unit == "rfc3339":
        moment = datetime.fromisoformat(text.strip())
        return (moment if moment.tzinfo else moment.replace(tzinfo=UTC)).timestamp()
    return finite(text, times=SECONDS[unit])


def finite(text: str, *, times: float = 1.0) -> float:
    """Return a number of the file, so many times; raises ValueError, for nan and inf too."""
    value = float(text) * times
    if not math.isfinite(value):
        raise ValueError(text)
    return value


def read_table(device: str, path: Path) -> tuple[list[str], list[Row]]:
    """Return the column names and each row that is not blank; raises DeviceError. A decimal comma becomes a point."""
    try:
        with path.open(newline="", encoding="utf-8-sig") as stream:
            delimiter = max(",;\t", key=stream.readline().count)
            stream.seek(0)
            reader = csv.reader(stream, delimiter=delimiter)
            header = [name.strip() for name in next(reader, [])]
            rows = [(reader.line_num, row) for row in reader if any(cell.strip() for cell in row)]
    except OSError as wrong:
        raise DeviceError(device, f"{path} cannot be read ({wrong.strerror}); check the name of the file") from wrong
    except (UnicodeDecodeError, csv.Error) as wrong:
        raise DeviceError(device, f"{path} is no CSV text in UTF-8 ({wrong}); export it again as CSV") from wrong
    if not rows:
        raise DeviceError(device, f"{path} has no rows; it needs a line of column names and at least one row")
    if delimiter != ",":  # spreadsheets that part cells so write a decimal comma
        rows = [(number, [cell.replace(",", ".") for cell in cells]) for number, cells in rows]
    return header, rows
