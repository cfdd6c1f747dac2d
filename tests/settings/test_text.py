"""Text that is no TOML, or no text, is told with its place."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from dryward.settings.mistakes import SettingsError
from dryward.settings.text import read_toml


def _refused(reader: Callable[[], object]) -> str:
    with pytest.raises(SettingsError) as error:
        reader()
    assert len(error.value.mistakes) == 1
    return str(error.value)


def test_text_that_is_no_toml_is_told_with_line_and_column(file: Callable[[str], Path]) -> None:
    told = _refused(lambda: read_toml(file('[chamber]\nname = "a\n')))
    assert "shed.toml: line 2, column 10" in told
    assert "limit: the file must be TOML" in told
    assert "missing quote" in told


def test_a_key_written_twice_is_told_with_its_line(file: Callable[[str], Path]) -> None:
    assert "line 3" in _refused(lambda: read_toml(file("[limits]\nmax_air_c = 80\nmax_air_c = 90\n")))


def test_a_file_cut_off_is_told(file: Callable[[str], Path]) -> None:
    assert "end of document" in _refused(lambda: read_toml(file("[chamber]\nname = ")))


def test_a_missing_file_is_told_with_its_path(tmp_path: Path) -> None:
    told = _refused(lambda: read_toml(tmp_path / "none.toml"))
    assert f"{tmp_path / 'none.toml'}\n  limit: the file must exist" in told


def test_a_folder_is_not_a_file(tmp_path: Path) -> None:
    assert "could not be read" in _refused(lambda: read_toml(tmp_path))


def test_text_that_is_not_utf8_is_told_with_its_place(tmp_path: Path) -> None:
    path = tmp_path / "latin.toml"
    path.write_bytes("note = 'Räucher'".encode("latin-1"))
    assert "Byte 10" in _refused(lambda: read_toml(path))


def test_a_byte_order_mark_of_an_editor_does_no_harm(tmp_path: Path) -> None:
    path = tmp_path / "marked.toml"
    path.write_bytes(b"\xef\xbb\xbfa = 1\n")
    assert read_toml(path) == {"a": 1}
