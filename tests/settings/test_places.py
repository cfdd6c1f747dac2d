"""Socket and record are found from the file alone, and where the whole reading would find them."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from pathlib import Path

import pytest

from dryward.settings import read_settings
from dryward.settings.places import beside, record_path, socket_path


@pytest.mark.parametrize(
    "tables",
    [
        "",
        '[record]\npath = "a.db"\n[service]\nsocket = "a.sock"\n',
        '[record]\npath = "/srv/a.db"\n[service]\nsocket = "~/a.sock"\n',
    ],
)
def test_the_quick_way_and_the_whole_reading_agree(file: Callable[[str], Path], tables: str) -> None:
    path = file('[chamber]\nname = "shed"\n' + tables)
    raw = tomllib.loads(path.read_text())
    settings = read_settings(path)
    assert str(socket_path(path, raw)) == settings.service.socket
    assert str(record_path(path, raw)) == settings.record.path


def test_a_table_that_is_none_leaves_the_default() -> None:
    assert socket_path(Path("/a/c.toml"), {"service": 5}) == Path("/run/dryward/dryward.sock")
    assert record_path(Path("/a/c.toml"), {"record": {"path": 5}}) == Path("/var/lib/dryward/record.db")


def test_a_path_counts_from_the_files_folder_or_from_home(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HOME", "/home/somebody")
    config = Path("/etc/dryward/chamber.toml")
    assert beside(config, "a/b") == Path("/etc/dryward/a/b")
    assert beside(config, "/a/b") == Path("/a/b")
    assert beside(config, "~/b") == Path("/home/somebody/b")
