"""``init`` and ``serve``: a first configuration, and what stops a daemon from starting."""

from __future__ import annotations

import errno
from pathlib import Path

import pytest
from click.testing import CliRunner

from dryward.doors.cli import main
from dryward.service.lock import ChamberLock
from dryward.settings import read_pieces, read_program, read_settings


@pytest.mark.parametrize("kind", ["twin", "twin-cabinet", "dryer", "cabinet"])
def test_a_starter_reads_without_mistakes(tmp_path: Path, kind: str) -> None:
    result = CliRunner().invoke(main, ["init", str(tmp_path / "new"), "--kind", kind])
    assert result.exit_code == 0, result.output
    settings = read_settings(tmp_path / "new" / "chamber.toml")
    read_program(tmp_path / "new" / "program.toml")
    assert read_pieces(tmp_path / "new" / "batch.toml", settings.chamber)
    assert ("check" if kind in ("dryer", "cabinet") else "serve") in result.output


def test_a_folder_with_a_space_is_quoted_in_what_to_do_next(tmp_path: Path) -> None:
    result = CliRunner().invoke(main, ["init", str(tmp_path / "my shed")])
    assert f"--config '{tmp_path / 'my shed' / 'chamber.toml'}'" in result.output


def test_a_folder_that_cannot_be_written_is_named_and_no_traceback() -> None:
    result = CliRunner().invoke(main, ["init", "/proc/shed"])
    assert result.exit_code == 1
    assert "/proc/shed could not be written" in result.output


def test_nothing_is_overwritten(tmp_path: Path) -> None:
    (tmp_path / "chamber.toml").write_text("mine")
    result = CliRunner().invoke(main, ["init", str(tmp_path)])
    assert result.exit_code == 1
    assert "chamber.toml" in result.output
    assert (tmp_path / "chamber.toml").read_text() == "mine"
    assert not (tmp_path / "program.toml").exists()


def test_a_chamber_in_use_is_not_served_twice(chamber_file: Path) -> None:
    lock = ChamberLock(chamber_file.with_name("record.db"))
    try:
        result = CliRunner().invoke(main, ["serve", "--config", str(chamber_file)])
    finally:
        lock.close()
    assert result.exit_code == 1
    assert "using this chamber" in result.output


def test_a_config_with_mistakes_is_not_served(tmp_path: Path) -> None:
    config = tmp_path / "chamber.toml"
    config.write_text('[chamber]\nname = "x"\nperiod_s = 99\n[heater]\n')
    result = CliRunner().invoke(main, ["serve", "--config", str(config)])
    assert result.exit_code == 1
    assert "chamber.period_s" in result.output
    assert "heater" in result.output


def test_only_a_simulated_chamber_runs_faster(tmp_path: Path) -> None:
    CliRunner().invoke(main, ["init", str(tmp_path), "--kind", "dryer"])
    result = CliRunner().invoke(main, ["serve", "--config", str(tmp_path / "chamber.toml"), "--speed", "5"])
    assert result.exit_code == 2
    assert "simulated" in result.output


def test_a_record_folder_that_cannot_be_written_is_told_with_what_it_means(
    chamber_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A worn card turns read-only: the next start of the service is the first to meet it."""

    def read_only(*_: object, **__: object) -> None:
        raise OSError(errno.EROFS, "Read-only file system", "/var/lib/dryward/record.db.lock")

    monkeypatch.setattr("dryward.service.serve.serve", read_only)
    result = CliRunner().invoke(main, ["serve", "--config", str(chamber_file)])
    assert result.exit_code == 1
    assert "Read-only file system: '/var/lib/dryward/record.db.lock'" in result.output
    assert "nothing is heated" in result.output
    assert "[record] path" in result.output
