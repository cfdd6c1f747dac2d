"""Plays a CSV file as devices: readings of sensors, or weighings of named pieces.

The first poll is second zero of the playing; a poll returns every row up to its time. All of a file is checked as it is
opened, and every mistake in it is named with its rows.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated, Literal

from annotated_types import Gt, Le, MinLen, doc

from dryward_hardware.checked import checked
from dryward_hardware.ports import Batch, DeviceError, PieceWeight, Sample
from dryward_hardware.table import UNIT_BY_NAME, Mistakes, Row, TimeUnit, finite, read_table, seconds

NAME_LENGTH = 32


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedOptions:
    """What a file holds and how its columns are called."""

    file: Annotated[str, MinLen(1), doc("CSV file with a line of column names.")]
    holds: Annotated[
        Literal["readings", "weighings"],
        doc("'readings': one row per moment, a column per sensor. 'weighings': one row per weighing of a piece."),
    ] = "readings"
    time_column: Annotated[str, doc("Column with the time.")] = "t_s"
    time_unit: Annotated[
        TimeUnit | None,
        doc(
            "Unit of that column: s, min, h, epoch-s (seconds since 1970) or rfc3339. Left out: by the column's name (t_s, t_min, t_h, epoch_s, time_utc)."
        ),
    ] = None
    starts_at: Annotated[
        str,
        doc(
            "Moment in the file, written as in its time column, that is second zero of the playing; files with the same moment run on one clock. Empty: the first row."
        ),
    ] = ""
    gap_s: Annotated[float, Gt(0.0), Le(1e9), doc("A longer time without a row is told in a note.")] = 3600.0
    columns: Annotated[
        dict[str, str],
        doc(
            "Readings: column = name of the value it plays, such as temperature or humidity. Left out: every column under its own name."
        ),
    ] = field(default_factory=dict)
    piece_columns: Annotated[tuple[str, ...], MinLen(1), doc("Weighings: columns that together name the piece.")] = (
        "piece",
    )
    weight_column: Annotated[str, doc("Weighings: column with the weight in g.")] = "weight_g"


def slug(*words: str) -> str:
    """Return a name of lower-case letters, digits and hyphens made of these words, at most 32 long."""
    return re.sub("[^a-z0-9]+", "-", " ".join(words).lower()).strip("-")[:NAME_LENGTH].rstrip("-")


class Recorded:
    """A CSV file played as a Source."""

    def __init__(self, device: str, options: Mapping[str, object] | RecordedOptions) -> None:
        """Read and check the whole file; raises DeviceError that names every mistake with its rows."""
        self.device = device
        self.options = options if isinstance(options, RecordedOptions) else checked(RecordedOptions, device, options)
        self._unit = self._time_unit()
        self._mistakes = Mistakes()
        header, rows = read_table(device, Path(self.options.file))
        self._need(header)
        found = list(
            self._weighings(header, rows) if self.options.holds == "weighings" else self._readings(header, rows)
        )
        if self._mistakes:
            raise DeviceError(device, f"{self.options.file}: {self._mistakes.told()}")
        found.sort(key=lambda entry: entry[0])  # stable: pieces written one after the other are played side by side
        self._play = self._from_start(found)
        self._next = 0
        self._zero_s: float | None = None

    def _time_unit(self) -> TimeUnit:
        unit = self.options.time_unit or UNIT_BY_NAME.get(self.options.time_column)
        if unit is None:
            raise DeviceError(
                self.device,
                f"the unit of time_column {self.options.time_column!r} is not known; set time_unit to s, min, h, epoch-s or rfc3339",
            )
        return unit

    def _need(self, header: list[str]) -> None:
        """Every column named in the options must stand in the file, once."""
        o = self.options
        wanted = [o.time_column, *((*o.piece_columns, o.weight_column) if o.holds == "weighings" else o.columns)]
        missing = [name for name in wanted if name not in header]
        twice = sorted({name for name in wanted if header.count(name) > 1})
        told = [f"has no column {name}" for name in missing] + [f"has the column {name} twice" for name in twice]
        told += self._unclear(header) if o.holds == "readings" else []
        if told:
            raise DeviceError(self.device, f"{o.file} {' and '.join(told)}; its columns are {', '.join(header)}")

    def _unclear(self, header: list[str]) -> list[str]:
        """Say which columns would play under one name or under none; one without a heading is not played at all."""
        o = self.options
        plays = list(o.columns.items()) or [(name, slug(name)) for name in header if name not in ("", o.time_column)]
        by_value: dict[str, list[str]] = {}
        for column, value in plays:
            by_value.setdefault(value, []).append(column)
        return [
            f"would play {' and '.join(columns)} {'under one name, ' + value if value else 'under no name'}: name in"
            " 'columns' what each is to be called"
            for value, columns in by_value.items()
            if not value or len(columns) > 1
        ]

    def _cells(self, header: list[str], rows: list[Row]) -> Iterator[tuple[int, float | None, dict[str, str]]]:
        """Yield each row that has all its cells, with its time (None where that is no time)."""
        for row, texts in rows:
            if len(texts) != len(header):
                self._mistakes.add(row, f"not {len(header)} cells", "one cell for each column name", len(texts))
                continue
            cells = dict(zip(header, texts, strict=True))
            text = cells[self.options.time_column]
            try:
                yield row, seconds(text, self._unit), cells
            except ValueError:
                self._mistakes.add(
                    row, f"{self.options.time_column} is no time", f"a time in {self._unit} is needed", text
                )
                yield row, None, cells

    def _readings(self, header: list[str], rows: list[Row]) -> Iterator[tuple[float, Sample | PieceWeight]]:
        o = self.options
        columns = o.columns or {name: slug(name) for name in header if name not in ("", o.time_column)}
        last = -math.inf
        for row, time_s, cells in self._cells(header, rows):
            last = self._in_order(row, time_s, last, cells)
            for column, value in columns.items():
                text = cells[column]
                if not text.strip():
                    continue  # nothing was measured: the channel is silent
                try:
                    reading = finite(text)
                except ValueError:
                    self._mistakes.add(row, f"{column} is no number", "a number or an empty cell is needed", text)
                    continue
                if time_s is not None:
                    yield time_s, Sample(f"{self.device}/{value}", reading, time_s)

    def _weighings(self, header: list[str], rows: list[Row]) -> Iterator[tuple[float, Sample | PieceWeight]]:
        o = self.options
        last: dict[str, float] = {}
        called: dict[str, tuple[str, ...]] = {}
        for row, time_s, cells in self._cells(header, rows):
            words = tuple(cells[column] for column in o.piece_columns)
            piece = slug(*words)
            if not piece:
                self._mistakes.add(
                    row, "the piece has no name", "a name with letters or digits is needed", " ".join(words)
                )
            elif called.setdefault(piece, words) != words:
                self._mistakes.add(
                    row,
                    f"a second piece would be called {piece}",
                    "give the pieces names that differ in letters or digits",
                    " ".join(words),
                )
            last[piece] = self._in_order(row, time_s, last.get(piece, -math.inf), cells)
            text = cells[o.weight_column]
            try:
                weight = finite(text)
            except ValueError:
                self._mistakes.add(row, f"{o.weight_column} is no number", "a weight in g is needed", text)
                continue
            if weight <= 0.0:
                self._mistakes.add(row, f"{o.weight_column} is not above 0", "a weight in g is needed", text)
            elif time_s is not None:
                yield time_s, PieceWeight(piece, weight, time_s)

    def _in_order(self, row: int, time_s: float | None, last: float, cells: dict[str, str]) -> float:
        """Return the newer of two times; a row that goes back in time is a mistake."""
        if time_s is None:
            return last
        if time_s < last:
            back = "of its piece " if self.options.holds == "weighings" else ""
            self._mistakes.add(
                row,
                f"earlier than the row {back}before",
                "sort the rows by time",
                cells[self.options.time_column],
            )
        return max(last, time_s)

    def _from_start(self, found: list[tuple[float, Sample | PieceWeight]]) -> list[tuple[float, Sample | PieceWeight]]:
        """Count times from the start; what lies before it is left out and told."""
        self._notes: list[str] = []
        if not found:
            raise DeviceError(self.device, f"{self.options.file} holds no value at all; look at its columns")
        start = found[0][0]
        if self.options.starts_at:
            try:
                start = seconds(self.options.starts_at, self._unit)
            except ValueError:
                raise DeviceError(
                    self.device,
                    f"starts_at is {self.options.starts_at!r}; write it as in the column {self.options.time_column} ({self._unit})",
                ) from None
        kept = [(time_s - start, value) for time_s, value in found if time_s >= start]
        if not kept:
            raise DeviceError(
                self.device,
                f"every row of {self.options.file} lies before starts_at {self.options.starts_at}; choose an earlier moment",
            )
        if len(kept) < len(found):
            self._notes.append(
                f"{self.device}: {len(found) - len(kept)} values before {self.options.starts_at} are not played"
            )
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
                notes.append(
                    f"{self.device}: no row for {gap_s:.0f} s, more than {self.options.gap_s:.0f} s, up to second {time_s:.0f} of the playing"
                )
            if isinstance(value, Sample):
                samples.append(Sample(value.channel, value.value, zero_s + time_s))
            else:
                weights.append(PieceWeight(value.piece, value.weight_g, zero_s + time_s))
            self._next += 1
        return Batch(tuple(samples), tuple(weights), tuple(notes), finished=self._next == len(self._play))

    def close(self) -> None:
        """Nothing is held open."""
