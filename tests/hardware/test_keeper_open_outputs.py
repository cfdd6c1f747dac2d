"""The last resort: every line goes to its safe state with nothing left but the file that the keeper was started with."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.hardware.keeper_stand import ROOT, Stand, wait_gone


@pytest.fixture
def stand(tmp_path: Path) -> Iterator[Stand]:
    stand = Stand(tmp_path)
    yield stand
    stand.clear()


def open_outputs(directory: Path) -> tuple[int, str]:
    done = subprocess.run(
        [sys.executable, "-P", "-m", "dryward_hardware.keeper.open_outputs", str(directory / "lines.json")],
        env={**os.environ, "PYTHONPATH": str(ROOT / "hardware")},
        capture_output=True,
        text=True,
        timeout=15,
    )
    return done.returncode, done.stderr


def assert_opened(stand: Stand, answer: tuple[int, str]) -> None:
    assert answer == (0, "dryward: every output is safe: heater, fan, contactor\n")
    assert (stand.last("heater").on, stand.last("heater").why) == (False, "opened")
    assert stand.levels(17)[-1] == (0, "claim")
    assert stand.levels(18)[-1] == (1, "claim"), "the fan is safe when it runs"
    assert stand.levels(27)[-1] == (1, "claim"), "the contactor is active low: open is high"


def test_lines_that_a_killed_keeper_left_on_are_opened(stand: Stand) -> None:
    """With keeper and main process killed at once, a Raspberry Pi's line keeps the level it had."""
    process, _ = stand.parent("loop")
    keeper = os.pidfd_open(stand.keeper_pid())
    signal.pidfd_send_signal(keeper, signal.SIGKILL)
    process.kill()
    wait_gone(keeper, within_s=2.0)
    assert stand.last("heater").on
    assert stand.levels(17)[-1] == (1, "write")
    assert_opened(stand, open_outputs(stand.directory))


def test_a_keeper_that_hangs_on_to_the_lines_is_killed_for_them(stand: Stand) -> None:
    process, _ = stand.parent("loop")
    keeper = os.pidfd_open(stand.keeper_pid())
    signal.pidfd_send_signal(keeper, signal.SIGSTOP)
    process.kill()
    assert_opened(stand, open_outputs(stand.directory))
    wait_gone(keeper, within_s=2.0)


def test_a_keeper_at_its_own_work_is_waited_for(stand: Stand) -> None:
    process, _ = stand.parent("loop")
    process.kill()
    assert_opened(stand, open_outputs(stand.directory))
    assert [entry.why for entry in stand.trace() if entry.output == "heater"][-2:] == ["pipe-end", "opened"]


def test_where_nothing_was_ever_claimed_there_is_nothing_to_do(tmp_path: Path) -> None:
    status, told = open_outputs(tmp_path)
    assert status == 0
    assert "no output lines were ever claimed" in told


@pytest.mark.parametrize("text", ["", "[]", '{"lines": []}', '{"lines": [{"name": "heater"}]}'])
def test_unknown_lines_are_told_loudly(tmp_path: Path, text: str) -> None:
    (tmp_path / "lines.json").write_text(text)
    status, told = open_outputs(tmp_path)
    assert status == 1
    assert "CHECK THAT THE HEATER IS OFF" in told


def test_it_needs_nothing_of_the_daemon() -> None:
    """It must work when the daemon's own packages are what is broken."""
    script = "import sys, dryward_hardware.keeper.open_outputs; print(*sys.modules)"
    done = subprocess.run(
        [sys.executable, "-P", "-c", script],
        env={**os.environ, "PYTHONPATH": str(ROOT / "hardware")},
        capture_output=True,
        text=True,
        check=True,
    )
    loaded = {name.split(".")[0] for name in done.stdout.split()}
    assert not loaded & {"dryward", "pydantic", "sqlite_utils", "paho", "apscheduler", "typing"}
