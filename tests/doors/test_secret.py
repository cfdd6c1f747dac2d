"""Secrets come from where nobody else can read them, and are told to nobody."""

from __future__ import annotations

from pathlib import Path

import pytest

from dryward.doors.secret import SecretError, password, secret_file, secret_lines


@pytest.fixture
def kept(tmp_path: Path) -> Path:
    path = tmp_path / "secret"
    path.write_text("first line#1 \r\n# a comment\n\n  second \n")
    path.chmod(0o600)
    return path


def test_a_password_is_the_first_line_as_it_stands(kept: Path) -> None:
    assert password(str(kept), {}) == "first line#1 "


def test_lines_come_without_comments_and_spaces(kept: Path) -> None:
    assert secret_lines(str(kept), {}) == ("first line#1", "second")


@pytest.mark.parametrize("mode", [0o640, 0o604, 0o660, 0o602, 0o644])
def test_a_secret_others_can_read_is_none(kept: Path, mode: int) -> None:
    kept.chmod(mode)
    with pytest.raises(SecretError, match=f"mode {mode:04o}.*chmod 600") as refused:
        password(str(kept), {})
    assert "first line" not in str(refused.value)


def test_a_systemd_credential_of_that_name_comes_first(kept: Path, tmp_path: Path) -> None:
    """systemd.exec(5), LoadCredential=: $CREDENTIALS_DIRECTORY holds a file for each name."""
    folder = tmp_path / "credentials"
    folder.mkdir()
    (folder / "secret").write_text("from systemd\n")
    (folder / "secret").chmod(0o440)
    assert password(str(kept), {"CREDENTIALS_DIRECTORY": str(folder)}) == "from systemd"
    assert password(str(kept), {"CREDENTIALS_DIRECTORY": str(tmp_path / "none")}) == "first line#1 "


def test_what_is_missing_empty_or_no_text_is_named_with_the_cure(tmp_path: Path) -> None:
    with pytest.raises(SecretError, match="credential called nowhere"):
        secret_file(str(tmp_path / "nowhere"), {"CREDENTIALS_DIRECTORY": str(tmp_path)})
    with pytest.raises(SecretError, match="no file"):
        secret_file(str(tmp_path), {})
    path = tmp_path / "p"
    path.write_bytes(b"\n")
    path.chmod(0o600)
    with pytest.raises(SecretError, match="first line"):
        password(str(path), {})
    path.write_bytes(b"\xff\xfe\x00")
    for read in (password, secret_lines):
        with pytest.raises(SecretError, match="UnicodeDecodeError"):
            read(str(path), {})
