"""Where a command finds its chamber."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from dryward.doors.common import find_config, places


def test_a_named_file_that_is_not_there_is_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as end:
        find_config(tmp_path / "none.toml")
    assert end.value.code == 1
    assert "none.toml" in capsys.readouterr().err


def test_the_file_in_this_folder_is_used(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "chamber.toml").write_text("")
    monkeypatch.chdir(tmp_path)
    assert find_config(None) == Path("chamber.toml")


def test_socket_and_record_are_those_of_the_file(chamber_file: Path) -> None:
    socket, record = places(chamber_file)
    assert socket == chamber_file.parent / "run/dryward.sock"
    assert record == chamber_file.parent / "record.db"


def test_a_broken_file_is_an_error_and_no_traceback(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    broken = tmp_path / "chamber.toml"
    broken.write_text("[chamber\n")
    with pytest.raises(SystemExit):
        places(broken)
    assert str(broken) in capsys.readouterr().err
    assert os.path.exists(broken)
