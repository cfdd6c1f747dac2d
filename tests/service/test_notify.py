"""Words to the service manager, against a socket that listens as systemd does. Format: sd_notify(3)."""

from __future__ import annotations

import os
import socket
from collections.abc import Iterator
from pathlib import Path

import pytest

from dryward.service.notify import Notifier, watchdog_s


@pytest.fixture(params=["path", "abstract"])
def manager(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[tuple[socket.socket, str]]:
    """A listening socket, and its name as the service manager writes it."""
    name = f"@dryward-test-{os.getpid()}" if request.param == "abstract" else str(tmp_path / "notify")
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as listener:
        listener.bind("\0" + name[1:] if name.startswith("@") else name)
        listener.settimeout(2.0)
        yield listener, name


def test_each_word_is_one_datagram(manager: tuple[socket.socket, str]) -> None:
    listener, name = manager
    notifier = Notifier({"NOTIFY_SOCKET": name})
    assert notifier.ready()
    assert listener.recv(4096) == b"READY=1"
    assert notifier.ready("waiting for a program")
    assert listener.recv(4096) == b"READY=1\nSTATUS=waiting for a program"
    assert notifier.well()
    assert listener.recv(4096) == b"WATCHDOG=1"
    assert notifier.stopping("the run is held")
    assert listener.recv(4096) == b"STOPPING=1\nSTATUS=the run is held"


def test_status_is_utf_8(manager: tuple[socket.socket, str]) -> None:
    listener, name = manager
    assert Notifier({"NOTIFY_SOCKET": name}).status("Kühlraum 12 °C, Stück 3 fällig")
    assert listener.recv(4096).decode() == "STATUS=Kühlraum 12 °C, Stück 3 fällig"


def test_a_line_break_in_a_status_cannot_forge_another_word(manager: tuple[socket.socket, str]) -> None:
    listener, name = manager
    assert Notifier({"NOTIFY_SOCKET": name}).status("step 2\nWATCHDOG=1\r\nSTOPPING=1")
    assert listener.recv(4096) == b"STATUS=step 2 WATCHDOG=1 STOPPING=1"


def test_text_that_is_no_unicode_does_no_harm(manager: tuple[socket.socket, str]) -> None:
    listener, name = manager
    assert Notifier({"NOTIFY_SOCKET": name}).status("odd \udcff name")
    assert listener.recv(4096) == b"STATUS=odd ? name"


@pytest.mark.parametrize(
    "environ",
    [
        {},
        {"NOTIFY_SOCKET": ""},
        {"NOTIFY_SOCKET": "/nowhere/at/all"},
        {"NOTIFY_SOCKET": "@nobody-listens"},
        {"NOTIFY_SOCKET": "vsock:2:1234"},
        {"NOTIFY_SOCKET": "/" + "x" * 300},
        {"NOTIFY_SOCKET": "/with\0null"},
    ],
)
def test_without_a_listener_nothing_happens(environ: dict[str, str]) -> None:
    notifier = Notifier(environ)
    assert [notifier.ready(), notifier.status("x"), notifier.well(), notifier.stopping()] == [False] * 4


def test_a_manager_that_does_not_read_is_not_waited_for(manager: tuple[socket.socket, str]) -> None:
    _, name = manager
    notifier = Notifier({"NOTIFY_SOCKET": name})
    assert not all(notifier.status("x" * 1000) for _ in range(2000))


def test_a_manager_that_comes_back_is_heard_again(tmp_path: Path) -> None:
    name = str(tmp_path / "notify")
    notifier = Notifier({"NOTIFY_SOCKET": name})
    assert not notifier.well()
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as listener:
        listener.bind(name)
        assert notifier.well()


@pytest.mark.parametrize(
    ("environ", "expected"),
    [
        ({}, None),
        ({"WATCHDOG_USEC": "8000000"}, 8.0),
        ({"WATCHDOG_USEC": "8000000", "WATCHDOG_PID": str(os.getpid())}, 8.0),
        ({"WATCHDOG_USEC": "8000000", "WATCHDOG_PID": "1"}, None),
        ({"WATCHDOG_USEC": "0"}, None),
        ({"WATCHDOG_USEC": "soon"}, None),
        ({"WATCHDOG_USEC": "8000000", "WATCHDOG_PID": "me"}, None),
    ],
)
def test_the_watchdog_is_ours_only_when_it_names_us(environ: dict[str, str], expected: float | None) -> None:
    """sd_watchdog_enabled(3): WATCHDOG_PID, when set, must be this process."""
    assert watchdog_s(environ) == expected
