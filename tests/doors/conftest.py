"""A daemon on the simulated dryer, running in this process at high speed, and commands that talk to it."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from dryward.doors.cli import main
from dryward.service.serve import Daemon
from dryward.settings import read_settings
from tests.service.conftest import write_twin

Command = Callable[..., Result]


@pytest.fixture
def chamber_file(tmp_path: Path) -> Path:
    """The starter chamber with record and socket in a folder of its own."""
    return write_twin(tmp_path)


@contextmanager
def turning(served: Daemon) -> Iterator[None]:
    """Let a daemon turn in a thread of its own until the end of the block."""
    thread = threading.Thread(target=served.turn_until_stopped, name="daemon")
    thread.start()
    try:
        yield
    finally:
        served.stop()
        thread.join(timeout=20.0)
        assert not thread.is_alive()


@pytest.fixture
def daemon(chamber_file: Path) -> Iterator[Daemon]:
    """A daemon that turns twenty times as fast as real time."""
    served = Daemon(read_settings(chamber_file), speed=20.0)
    with turning(served):
        yield served


@pytest.fixture
def command(chamber_file: Path) -> Command:
    """Run ``dryward VERB ... --config`` for the chamber of this test."""

    def run(*words: str) -> Result:
        return CliRunner().invoke(main, [*words, "--config", str(chamber_file)])

    return run
