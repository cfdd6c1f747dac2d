"""Tables of recordings: cells, times, and mistakes told with their rows."""

from __future__ import annotations

from pathlib import Path

import pytest

from dryward_hardware.table import Mistakes, finite, read_table, seconds


def test_rows_keep_the_numbers_they_have_in_the_file(tmp_path: Path) -> None:
    path = tmp_path / "t.csv"
    path.write_text("\ufeff a ,b\n\n1,2\n ,\n3,4\n")
    assert read_table("dev", path) == (["a", "b"], [(3, ["1", "2"]), (5, ["3", "4"])])


def test_tabs_and_semicolons_part_cells_and_bring_decimal_commas(tmp_path: Path) -> None:
    path = tmp_path / "t.csv"
    for mark in ("\t", ";"):
        path.write_text(f"a{mark}b\n1,5{mark}2\n")
        assert read_table("dev", path) == (["a", "b"], [(2, ["1.5", "2"])])


def test_mistakes_of_one_kind_are_told_together_with_every_row() -> None:
    mistakes = Mistakes()
    assert not mistakes
    for row in (3, 7, 8, 9):
        mistakes.add(row, "a is no number", "a number is needed", "x")
    mistakes.add(5, "not 3 cells", "one cell for each column name", 2)
    assert mistakes
    assert mistakes.told() == (
        "a is no number in rows 3, 7-9 (row 3: 'x'): a number is needed; not 3 cells in row 5 (row 5: 2): one cell for each column name"
    )


@pytest.mark.parametrize("text", ["nan", "inf", "-inf", "", "1,5", "x"])
def test_what_is_no_finite_number_is_refused(text: str) -> None:
    with pytest.raises(ValueError):  # noqa: PT011 - the caller words it
        finite(text)


def test_times_are_seconds_whatever_their_unit() -> None:
    """RFC 3339: 1970-01-01T00:01:00Z is one minute after the epoch; without a zone UTC is meant."""
    assert seconds("90", "s") == seconds("1.5", "min") == seconds("0.025", "h") == seconds("90", "epoch-s") == 90.0
    assert seconds("1970-01-01T01:01:30+01:00", "rfc3339") == seconds("1970-01-01T00:01:30", "rfc3339") == 90.0
