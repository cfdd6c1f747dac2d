"""The caller's side of the local socket: what cannot be reached is said with the cure."""

from __future__ import annotations

import socket
from pathlib import Path

import pytest

from dryward.doors.wire import Unreachable, ask


def test_no_socket(tmp_path: Path) -> None:
    with pytest.raises(Unreachable, match="dryward serve"):
        ask(tmp_path / "none.sock", {"verb": "status"})


def test_nobody_listens(tmp_path: Path) -> None:
    path = tmp_path / "dead.sock"
    with socket.socket(socket.AF_UNIX) as made:
        made.bind(str(path))
    with pytest.raises(Unreachable, match="not running any more"):
        ask(path, {"verb": "status"})


def test_no_answer_in_time(tmp_path: Path) -> None:
    path = tmp_path / "slow.sock"
    with socket.socket(socket.AF_UNIX) as made:
        made.bind(str(path))
        made.listen()
        with pytest.raises(Unreachable, match="does not answer"):
            ask(path, {"verb": "status"}, answer_s=0.05)
