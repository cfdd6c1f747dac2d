"""Columns of numbers from a CSV file, with every bad row told at once.

The file may have a byte-order mark, blank lines, further columns and any order of columns; commas, semicolons or tabs
between the cells. With semicolons or tabs a decimal comma is understood, since that is what such spreadsheets write.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import click

SHOWN = 12
"""So many mistakes are printed; the rest are counted, so that a wrong file does not fill the screen."""


@dataclass(frozen=True, slots=True)
class Table:
    """``columns``: one tuple of numbers per column; ``rows``: the line in the file (first line is 1) of each; ``words``: columns of text."""

    columns: Mapping[str, tuple[float, ...]]
    rows: tuple[int, ...]
    words: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


class BadTable(click.ClickException):
    """The file cannot be used; the message lists every mistake with its row. Exit code 1."""

    def __init__(self, path: Path, mistakes: Sequence[str]) -> None:
        self.mistakes = tuple(mistakes)
        more = [f"... and {len(mistakes) - SHOWN} more"] if len(mistakes) > SHOWN else []
        super().__init__("\n  ".join([f"{path} cannot be used:", *mistakes[:SHOWN], *more]))


def read_columns(
    path: Path | str,
    needed: Sequence[str],
    optional: Sequence[str] = (),
    *,
    gaps: Sequence[str] = (),
    words: Sequence[str] = (),
) -> Table:
    """Read the named columns of a CSV file as finite numbers, those in ``words`` (needed too) as text.

    An optional column that the file lacks is left out of the result. An empty cell is a mistake in a needed column and NaN in an
    optional one or one named in ``gaps``. Raises BadTable.
    """
    path = Path(path)
    lines, delimiter = _lines(path)
    _, header = next(lines, (1, []))
    names = [cell.strip() for cell in header]
    if mistakes := _header_mistakes(names, (*needed, *words), optional):
        raise BadTable(path, mistakes)
    places = {name: names.index(name) for name in (*needed, *optional) if name in names}
    may_be_empty = {*optional, *gaps}
    columns: dict[str, list[float]] = {name: [] for name in places}
    texts: dict[str, list[str]] = {name: [] for name in words}
    rows: list[int] = []
    for row, cells in lines:
        rows.append(row)
        if any(cell.strip() for cell in cells[len(names) :]):
            mistakes.append(f"row {row}: more cells than the first line names{_comma_hint(delimiter)}")
        for name, place in places.items():
            cell = cells[place].strip() if place < len(cells) else ""
            value = _number(cell, decimal_comma=delimiter != ",")
            if value is None and not (cell == "" and name in may_be_empty):
                mistakes.append(
                    f"row {row}: {name} is {cell!r}; write a number"
                    if cell
                    else f"row {row}: {name} is empty; write a number"
                )
            columns[name].append(math.nan if value is None else value)
        for name in words:
            place = names.index(name)
            texts[name].append(cells[place].strip() if place < len(cells) else "")
            if not texts[name][-1]:
                mistakes.append(f"row {row}: {name} is empty; write a name")
    if not rows:
        mistakes.append("there is no row of figures below the header")
    if mistakes:
        raise BadTable(path, mistakes)
    return Table(
        {name: tuple(values) for name, values in columns.items()},
        tuple(rows),
        {name: tuple(values) for name, values in texts.items()},
    )


def _lines(path: Path) -> tuple[Iterator[tuple[int, list[str]]], str]:
    """Open the file; give (line number, cells) of each row that is not blank, and the delimiter its header uses."""
    try:
        text = path.read_text(encoding="utf-8-sig")
    except OSError as error:
        raise BadTable(path, [f"it cannot be read: {error.strerror or error}"]) from error
    except UnicodeDecodeError as error:
        raise BadTable(
            path, ["it is not plain text in UTF-8; save it again as CSV and choose UTF-8 as its encoding"]
        ) from error
    header = next((line for line in text.splitlines() if line.strip()), "")
    delimiter = max(",;\t", key=header.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)

    def filled() -> Iterator[tuple[int, list[str]]]:
        try:
            for cells in reader:
                if any(cell.strip() for cell in cells):
                    yield reader.line_num, cells
        except csv.Error as error:
            raise BadTable(path, [f"row {reader.line_num}: {error}"]) from error

    return filled(), delimiter


def _header_mistakes(names: Sequence[str], needed: Sequence[str], optional: Sequence[str]) -> list[str]:
    if not any(names):
        return ["it is empty; the first line names the columns: " + ",".join(needed)]
    found = ", ".join(name or "(no name)" for name in names)
    mistakes = [f"column {name!r} is missing; the first line has: {found}" for name in needed if name not in names]
    twice = [name for name in (*needed, *optional) if names.count(name) > 1]
    return mistakes + [f"column {name!r} is there {names.count(name)} times; keep one" for name in twice]


def _comma_hint(delimiter: str) -> str:
    return "; a decimal comma needs semicolons between the cells, or write a point" if delimiter == "," else ""


def _number(cell: str, *, decimal_comma: bool) -> float | None:
    try:
        value = float(cell.replace(",", ".") if decimal_comma else cell)
    except ValueError:
        return None
    return value if math.isfinite(value) else None
