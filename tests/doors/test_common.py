"""Where a command finds its chamber."""

from __future__ import annotations

import errno
import os
import pwd
from pathlib import Path

import pytest

from dryward.doors import common
from dryward.doors.common import find_config, places, who_runs_this


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


def test_a_folder_one_may_not_look_into_is_told_with_the_way_in(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def refused(path: Path) -> bool:
        raise PermissionError(errno.EACCES, "Permission denied", str(path))

    monkeypatch.setattr(Path, "is_file", refused)
    with pytest.raises(SystemExit):
        find_config(Path("/etc/dryward/chamber.toml"))
    said = capsys.readouterr().err
    assert "/etc/dryward/chamber.toml could not be read" in said
    assert "adduser" in said


def test_a_folder_closed_to_the_service_does_not_hide_the_systems_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """'sudo -u dryward dryward check' in a home folder of mode 0700."""
    system = tmp_path / "chamber.toml"
    system.write_text("")
    real = Path.is_file

    def closed(path: Path) -> bool:
        if not path.is_absolute():
            raise PermissionError(errno.EACCES, "Permission denied", str(path))
        return real(path)

    monkeypatch.setattr(Path, "is_file", closed)
    monkeypatch.setattr(common, "SYSTEM_CONFIG", system)
    assert find_config(None) == system


def test_a_byte_order_mark_is_no_mistake(chamber_file: Path) -> None:
    chamber_file.write_bytes(b"\xef\xbb\xbf" + chamber_file.read_bytes())
    assert places(chamber_file)[1] == chamber_file.parent / "record.db"


def test_who_runs_this_is_known_where_the_shell_names_nobody(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("SUDO_USER", "USER", "LOGNAME"):
        monkeypatch.delenv(name, raising=False)
    assert who_runs_this() == pwd.getpwuid(os.getuid()).pw_name
    monkeypatch.setenv("SUDO_USER", "ines")
    assert who_runs_this() == "ines"
