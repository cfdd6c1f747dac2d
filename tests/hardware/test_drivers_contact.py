"""Digital inputs on gpiozero's mock pins."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from gpiozero.exc import GPIOZeroError
from gpiozero.pins.mock import MockFactory

from dryward_hardware.drivers.contact import Contact, input_factory


class Board:
    def __init__(self) -> None:
        self.factory = MockFactory(revision="a02082")
        self.now_s = 0.0

    def contact(self, pull: str = "up", *, active_high: bool = False) -> Contact:
        return Contact(gpio=5, pull=pull, active_high=active_high, factory=self.factory, clock=lambda: self.now_s)

    def reads(self, contact: Contact, times: int) -> list[float | None]:
        told = []
        for _ in range(times):
            self.now_s += contact.period_s
            told += [value.value for value in contact.read()]
        return told


@pytest.fixture
def board() -> Board:
    return Board()


@pytest.mark.parametrize(
    ("pull", "active_high", "open_is", "shut_is"),
    [("up", False, 0.0, 1.0), ("up", True, 1.0, 0.0), ("down", True, 0.0, 1.0), ("down", False, 1.0, 0.0)],
)
def test_pull_and_active_level_are_independent(
    board: Board, pull: str, active_high: bool, open_is: float, shut_is: float
) -> None:
    contact = board.contact(pull, active_high=active_high)
    assert board.reads(contact, 2) == [open_is], "nothing drives the line: the pull decides"
    pin = board.factory.pin(5)
    pin.drive_low() if pull == "up" else pin.drive_high()
    assert board.reads(contact, 2) == [shut_is]


def test_a_line_without_pull_is_read_as_it_is(board: Board) -> None:
    contact = board.contact("none", active_high=True)
    board.factory.pin(5).drive_high()
    assert board.reads(contact, 2) == [1.0]


def test_a_change_is_told_at_once_and_an_unchanged_state_every_two_seconds(board: Board) -> None:
    contact = board.contact()
    assert board.reads(contact, 2) == [0.0]
    assert board.reads(contact, 38) == []
    assert board.reads(contact, 3) == [0.0]
    board.factory.pin(5).drive_low()
    assert board.reads(contact, 2) == [1.0]


def test_a_single_flicker_is_not_told(board: Board) -> None:
    contact = board.contact()
    board.reads(contact, 2)
    for drive in ("drive_low", "drive_high") * 5:
        getattr(board.factory.pin(5), drive)()
        assert board.reads(contact, 1) == []


def test_closing_lets_go_of_the_line(board: Board) -> None:
    board.contact().close()
    board.contact().close()


def test_two_devices_cannot_have_one_line(board: Board) -> None:
    held = board.contact()
    with pytest.raises(GPIOZeroError):
        board.contact()
    assert board.reads(held, 2) == [0.0]


def test_mock_pins_can_follow_a_file(tmp_path: Path) -> None:
    levels = tmp_path / "levels"
    contact = Contact(gpio=6, factory=input_factory("mock", str(levels)), clock=lambda: 0.0)

    def state() -> list[float | None]:
        return [value.value for _ in range(2) for value in contact.read()]

    assert state() == [0.0], "no file yet: the pull decides"
    levels.write_text("5 1\n6 0\n")
    assert state() == [1.0]
    levels.write_text("6 1\n")
    assert state() == [0.0]
    levels.write_text("half a li")
    assert state() == []


def test_the_real_factory_leaves_no_pipe_behind_though_this_machine_has_no_lines(tmp_path: Path) -> None:
    script = "from dryward_hardware.drivers.contact import input_factory; input_factory('lgpio')"
    done = subprocess.run(
        [sys.executable, "-c", script],
        cwd=tmp_path,
        env={"PYTHONPATH": os.pathsep.join(sys.path)},
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode == 0:
        pytest.skip("this machine has lines")
    assert "PinUnknownPi" in done.stderr or "gpiochip" in done.stderr
    assert list(tmp_path.iterdir()) == []
    assert not list(Path("/tmp").glob("dryward-inputs-*"))


def test_no_other_pin_factory_is_taken() -> None:
    with pytest.raises(OSError, match="must be lgpio or mock"):
        input_factory("native")
