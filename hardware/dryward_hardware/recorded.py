"""Plays a CSV file as devices: readings of sensors, or weighings of named pieces.

The first poll is second zero of the playing; a poll returns every row up to its time. All of a file is checked as it is
opened, and every mistake in it is named with its rows.
"""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated, Literal

from annotated_types import Gt, Le, MinLen, doc

from dryward_hardware.checked import checked
from dryward_hardware.ports import Batch, DeviceError, PieceWeight, Sample

TimeUnit = Literal["s", "min", "h", "epoch-s", "rfc3339"]
SECONDS: dict[str, float] = {"s": 1.0, "min": 60.0, "h": 3600.0, "epoch-s": 1.0}
UNIT_BY_NAME: dict[str, TimeUnit] = {"t_s": "s", "t_min": "min", "t_h": "h", "epoch_s": "epoch-s", "time_utc": "rfc3339"}
NAME_LENGTH = 32


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedOptions:
    """What a file holds and how its columns are called."""

    file: Annotated[str, MinLen(1), doc("CSV file with a line of column names.")]
    holds: Annotated[Literal["readings", "weighings"], doc("'readings': one row per moment, a column per sensor. 'weighings': one row per weighing of a piece.")] = "readings"
    time_column: Annotated[str, doc("Column with the time.")] = "t_s"
    time_unit: Annotated[TimeUnit | None, doc("Unit of that column: s, min, h, epoch-s (seconds since 1970) or rfc3339. Left out: by the column's name (t_s, t_min, t_h, epoch_s, time_utc).")] = None
    starts_at: Annotated[str, doc("Moment in the file, written as in its time column, that is second zero of the playing; files with the same moment run on one clock. Empty: the first row.")] = ""
    gap_s: Annotated[float, Gt(0.0), Le(1e9), doc("A longer time without a row is told in a note.")] = 3600.0
    columns: Annotated[dict[str, str], doc("Readings: column = name of the value it plays, such as temperature or humidity. Left out: every column under its own name.")] = field(default_factory=dict)
    piece_columns: Annotated[tuple[str, ...], MinLen(1), doc("Weighings: columns that together name the piece.")] = ("piece",)
    weight_column: Annotated[str, doc("Weighings: column with the weight in g.")] = "weight_g"


def slug(*words: str) -> str:
    """Return a name of lower-case letters, digits and hyphens made of these words, at most 32 long."""
    return re.sub("[^a-z0-9]+", "-", " ".join(words).lower()).strip("-")[:NAME_LENGTH].rstrip("-")


class Mistakes:
    """Mistakes of a file, rows of one kind together."""

    def __init__(self) -> None:
        self._rows: dict[tuple[str, str], list[int]] = {}
        self._first: dict[tuple[str, str], str] = {}

    def add(self, row: int, what: str, cure: str, shown: str) -> None:
        """Note a mistake of ``row`` (the header is row 1); ``shown`` is what stands there."""
        self._rows.setdefault((what, cure), []).append(row)
        self._first.setdefault((what, cure), shown)

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


def _seconds(text: str, unit: TimeUnit) -> float:
    """Return a time of the file in seconds; raises ValueError."""
    if unit == "rfc3339":
        moment = datetime.fromisoformat(text.strip())
        return (moment if moment.tzinfo else moment.replace(tzinfo=UTC)).timestamp()
    return _number(text) * SECONDS[unit]


def _number(text: str) -> float:
    value = float(text)
    if not math.isfinite(value):
        raise ValueError(text)
    return value


class Recorded:
    """A CSV file played as a Source."""

    def __init__(self, device: str, options: Mapping[str, object] | RecordedOptions) -> None:
        """Read and check the whole file; raises DeviceError that names every mistake with its rows."""
        self.device = device
        self.options = options if isinstance(options, RecordedOptions) else checked(RecordedOptions, device, options)
        self._unit = self._time_unit()
        self._mistakes = Mistakes()
        header, rows = self._read()
        self._need(header)
        found = list(self._weighings(header, rows) if self.options.holds == "weighings" else self._readings(header, rows))
        if self._mistakes:
            raise DeviceError(device, f"{self.options.file}: {self._mistakes.told()}")
        found.sort(key=lambda entry: entry[0])  # stable: pieces written one after the other are played side by side
        self._play = self._from_start(found)
        self._next = 0
        self._zero_s: float | None = None

    def _time_unit(self) -> TimeUnit:
        unit = self.options.time_unit or UNIT_BY_NAME.get(self.options.time_column)
        if unit is None:
            raise DeviceError(self.device, f"the unit of time_column {self.options.time_column!r} is not known; set time_unit to s, min, h, epoch-s or rfc3339")
        return unit

    def _read(self) -> tuple[list[str], list[tuple[int, list[str]]]]:
        path = Path(self.options.file)
        try:
            with path.open(newline="", encoding="utf-8-sig") as stream:
                delimiter = max(",;\t", key=stream.readline().count)
                stream.seek(0)
                reader = csv.reader(stream, delimiter=delimiter)
                header = [name.strip() for name in next(reader, [])]
                rows = [(reader.line_num, row) for row in reader if any(cell.strip() for cell in row)]
        except OSError as wrong:
            raise DeviceError(self.device, f"{path} cannot be read ({wrong.strerror}); check the name of the file") from wrong
        except (UnicodeDecodeError, csv.Error) as wrong:
            raise DeviceError(self.device, f"{path} is no CSV text in UTF-8 ({wrong}); export it again as CSV") from wrong
        if not rows:
            raise DeviceError(self.device, f"{path} has no rows; it needs a line of column names and at least one row")
        if delimiter != ",":  # spreadsheets that part cells so write a decimal comma
            rows = [(number, [cell.replace(",", ".") for cell in row]) for number, row in rows]
        return header, rows

    def _need(self, header: list[str]) -> None:
        """Every column named in the options must stand in the file, once."""
        o = self.options
        wanted = [o.time_column, *((*o.piece_columns, o.weight_column) if o.holds == "weighings" else o.columns)]
        missing = [name for name in wanted if name not in header]
        twice = sorted({name for name in wanted if header.count(name) > 1})
        told = [f"has no column {name}" for name in missing] + [f"has the column {name} twice" for name in twice]
        if told:
            raise DeviceError(self.device, f"{o.file} {' and '.join(told)}; its columns are {', '.join(header)}")

    def _cells(self, header: list[str], rows: list[tuple[int, list[str]]]) -> Iterator[tuple[int, float | None, dict[str, str]]]:
        """Yield each row that has all its cells, with its time (None where that is no time)."""
        for number, row in rows:
            if len(row) != len(header):
                self._mistakes.add(number, f"not {len(header)} cells", "one cell for each column name", f"{len(row)}")
                continue
            cells = dict(zip(header, row, strict=True))
            text = cells[self.options.time_column]
            try:
                yield number, _seconds(text, self._unit), cells
            except ValueError:
                self._mistakes.add(number, f"{self.options.time_column} is no time", f"a time in {self._unit} is needed", repr(text))
                yield number, None, cells

    def _readings(self, header: list[str], rows: list[tuple[int, list[str]]]) -> Iterator[tuple[float, Sample | PieceWeight]]:
        o = self.options
        columns = o.columns or {name: slug(name) for name in header if name != o.time_column}
        last = -math.inf
        for number, time_s, cells in self._cells(header, rows):
            last = self._in_order(number, time_s, last, cells)
            for column, value in columns.items():
                text = cells[column]
                if not text.strip():
                    continue  # nothing was measured: the channel is silent
                try:
                    reading = _number(text)
                except ValueError:
                    self._mistakes.add(number, f"{column} is no number", "a number or an empty cell is needed", repr(text))
                    continue
                if time_s is not None:
                    yield time_s, Sample(f"{self.device}/{value}", reading, time_s)

    def _weighings(self, header: list[str], rows: list[tuple[int, list[str]]]) -> Iterator[tuple[float, Sample | PieceWeight]]:
        o = self.options
        last: dict[str, float] = {}
        called: dict[str, tuple[str, ...]] = {}
        for number, time_s, cells in self._cells(header, rows):
            words = tuple(cells[column] for column in o.piece_columns)
            piece = slug(*words)
            if not piece:
                self._mistakes.add(number, "the piece has no name", "a name with letters or digits is needed", repr(" ".join(words)))
            elif called.setdefault(piece, words) != words:
                self._mistakes.add(number, f"a second piece would be called {piece}", "give the pieces names that differ in letters or digits", repr(" ".join(words)))
            last[piece] = self._in_order(number, time_s, last.get(piece, -math.inf), cells)
            text = cells[o.weight_column]
            try:
                weight = _number(text)
            except ValueError:
                self._mistakes.add(number, f"{o.weight_column} is no number", "a weight in g is needed", repr(text))
                continue
            if weight <= 0.0:
                self._mistakes.add(number, f"{o.weight_column} is not above 0", "a weight in g is needed", repr(text))
            elif time_s is not None:
                yield time_s, PieceWeight(piece, weight, time_s)

    def _in_order(self, number: int, time_s: float | None, last: float, cells: dict[str, str]) -> float:
        """Return the newer of two times; a row that goes back in time is a mistake."""
        if time_s is None:
            return last
        if time_s < last:
            back = "of its piece " if self.options.holds == "weighings" else ""
            self._mistakes.add(number, f"earlier than the row {back}before", "sort the rows by time", repr(cells[self.options.time_column]))
        return max(last, time_s)

    def _from_start(self, found: list[tuple[float, Sample | PieceWeight]]) -> list[tuple[float, Sample | PieceWeight]]:
        """Count times from the start; what lies before it is left out and told."""
        self._notes: list[str] = []
        if not found:
            raise DeviceError(self.device, f"{self.options.file} holds no value at all; look at its columns")
        start = found[0][0]
        if self.options.starts_at:
            try:
                start = _seconds(self.options.starts_at, self._unit)
            except ValueError:
                raise DeviceError(self.device, f"starts_at is {self.options.starts_at!r}; write it as in the column {self.options.time_column} ({self._unit})") from None
        kept = [(time_s - start, value) for time_s, value in found if time_s >= start]
        if not kept:
            raise DeviceError(self.device, f"every row of {self.options.file} lies before starts_at {self.options.starts_at}; choose an earlier moment")
        if len(kept) < len(found):
            self._notes.append(f"{self.device}: {len(found) - len(kept)} values before {self.options.starts_at} are not played")
        return kept

    def poll(self, now_s: float) -> Batch:
        """Return every row up to ``now_s``; ``finished`` once the last has been returned."""
        if self._zero_s is None:
            self._zero_s = now_s
        zero_s = self._zero_s
        samples: list[Sample] = []
        weights: list[PieceWeight] = []
        notes, self._notes = self._notes, []
        while self._next < len(self._play) and self._play[self._next][0] <= now_s - zero_s:
            time_s, value = self._play[self._next]
            gap_s = time_s - (self._play[self._next - 1][0] if self._next else 0.0)
            if gap_s > self.options.gap_s:
                notes.append(f"{self.device}: no row for {gap_s:.0f} s, more than {self.options.gap_s:.0f} s, up to second {time_s:.0f} of the playing")
            if isinstance(value, Sample):
                samples.append(Sample(value.channel, value.value, zero_s + time_s))
            else:
                weights.append(PieceWeight(value.piece, value.weight_g, zero_s + time_s))
            self._next += 1
        return Batch(tuple(samples), tuple(weights), tuple(notes), finished=self._next == len(self._play))

    def close(self) -> None:
        """Nothing is held open."""
