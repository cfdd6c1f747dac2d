"""Columns of numbers from CSV files as people and loggers write them."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from dryward.doors.calc.table import SHOWN, BadTable, read_columns


def written(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "figures.csv"
    path.write_bytes(text.encode())
    return path


def test_columns_are_found_by_name_whatever_stands_beside_them(tmp_path: Path) -> None:
    table = read_columns(
        written(tmp_path, "note,core_c,t_s\r\nstart,4.5,0\r\n\r\n,5,60\r\n"), ["t_s", "core_c"], ["rh_pct"]
    )
    assert table.columns == {"t_s": (0.0, 60.0), "core_c": (4.5, 5.0)}
    assert table.rows == (2, 4)


def test_a_spreadsheet_with_semicolons_decimal_commas_and_a_mark_is_understood(tmp_path: Path) -> None:
    table = read_columns(written(tmp_path, "\ufefft_s;core_c\n0;4,5\n60;5\n"), ["t_s", "core_c"])
    assert table.columns["core_c"] == (4.5, 5.0)


def test_an_empty_cell_is_a_gap_only_where_gaps_are_allowed(tmp_path: Path) -> None:
    path = written(tmp_path, "t_s,core_c,rh_pct\n0,,\n60,5,90\n")
    table = read_columns(path, ["t_s", "core_c"], ["rh_pct"], gaps=["core_c"])
    assert math.isnan(table.columns["core_c"][0])
    assert math.isnan(table.columns["rh_pct"][0])
    with pytest.raises(BadTable, match="row 2: core_c is empty"):
        read_columns(path, ["t_s", "core_c"])


def test_every_bad_row_is_told_with_its_number(tmp_path: Path) -> None:
    with pytest.raises(BadTable) as caught:
        read_columns(written(tmp_path, "t_s,core_c\n0,4\nsixty,5\n120,nan\n180\n"), ["t_s", "core_c"])
    assert [mistake[:6] for mistake in caught.value.mistakes] == ["row 3:", "row 4:", "row 5:"]
    assert caught.value.exit_code == 1


def test_a_wrong_file_does_not_fill_the_screen(tmp_path: Path) -> None:
    with pytest.raises(BadTable, match="and 88 more") as caught:
        read_columns(written(tmp_path, "t_s\n" + "x\n" * 100), ["t_s"])
    assert caught.value.message.count("\n") == SHOWN + 1


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "is empty"),
        ("t_s,core_c\n", "no row of figures"),
        ("t_s,temperature\n0,1\n", "'core_c' is missing; the first line has: t_s, temperature"),
        ("t_s,core_c,t_s\n0,1,2\n", "'t_s' is there 2 times"),
    ],
)
def test_a_file_without_the_columns_says_what_it_has(tmp_path: Path, text: str, said: str) -> None:
    with pytest.raises(BadTable, match=said):
        read_columns(written(tmp_path, text), ["t_s", "core_c"])


def test_a_missing_file_a_directory_and_a_picture_are_told_apart(tmp_path: Path) -> None:
    with pytest.raises(BadTable, match="No such file"):
        read_columns(tmp_path / "none.csv", ["t_s"])
    with pytest.raises(BadTable, match="directory"):
        read_columns(tmp_path, ["t_s"])
    picture = tmp_path / "picture.csv"
    picture.write_bytes(b"\x89PNG\xff\xfe")
    with pytest.raises(BadTable, match="not plain text"):
        read_columns(picture, ["t_s"])


def test_a_decimal_comma_between_commas_is_not_cut_off(tmp_path: Path) -> None:
    with pytest.raises(BadTable, match="row 3: more cells than the first line names; a decimal comma needs semicolons"):
        read_columns(written(tmp_path, "t_s,core_c\n0,60,\n60,61,5\n"), ["t_s", "core_c"])
    assert read_columns(written(tmp_path, "t_s;core_c\n0;60;\n"), ["t_s", "core_c"]).rows == (2,)


def test_a_csv_file_in_another_encoding_is_not_told_to_become_csv_only(tmp_path: Path) -> None:
    """Many spreadsheets save plain CSV in the code page of the computer, where a piece named with an umlaut is no UTF-8."""
    path = tmp_path / "ansi.csv"
    path.write_bytes("t_s,piece\n0,Nackenst\u00fcck\n".encode("cp1252"))
    with pytest.raises(BadTable, match="choose UTF-8 as its encoding"):
        read_columns(path, ["t_s"])
