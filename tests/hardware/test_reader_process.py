"""The reader program: its posts on a clock of their own, and the program itself among real processes."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from dryward_hardware.ports import DeviceSpec
from dryward_hardware.reader import process
from dryward_hardware.reader.messages import channel_pair, pack
from dryward_hardware.reader.process import OPEN_S, POLITE_S, Post, Reader
from tests.hardware.keeper_stand import ROOT, wait_gone
from tests.hardware.kernel_tree import KernelTree

SPEC = DeviceSpec(name="top", kind="hwmon", options={"name": "sht4x"})


class Clock:
    """The clock of the reader, and the signals it has sent."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.now_s = 100.0
        self.sent: list[tuple[str, int]] = []
        monkeypatch.setattr(process.time, "monotonic", lambda: self.now_s)
        monkeypatch.setattr(process.os, "kill", lambda pid, number: self.sent.append(("one", number)))
        monkeypatch.setattr(process.os, "killpg", lambda pid, number: self.sent.append(("group", number)))


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    return Clock(monkeypatch)


@pytest.fixture
def post(clock: Clock) -> Iterator[Post]:
    """A post with a worker that has just been started, but no process."""
    post = Post([SPEC])
    post.pipe, theirs = channel_pair()
    post.pid, post.started_s, post.speaks_by_s = 4_000_000, clock.now_s, clock.now_s + OPEN_S
    yield post
    theirs.close()
    if post.pipe is not None:
        post.pipe.close()


def test_a_worker_says_how_long_it_may_be_silent_and_only_its_reads_are_passed_on(post: Post, clock: Clock) -> None:
    assert not post.hear(pack("open", 6.2))
    assert post.speaks_by_s == clock.now_s + 6.2
    clock.now_s += 2.0
    assert post.hear(pack("read", "top", 1, []))
    assert post.speaks_by_s == clock.now_s + 6.2
    assert not post.hear(pack("failed", "a reason"))


def test_a_worker_that_hangs_is_asked_then_killed_with_all_it_started_then_given_up(post: Post, clock: Clock) -> None:
    post.hear(pack("open", 6.0))
    clock.now_s += 5.9
    assert not post.overdue(clock.now_s)
    clock.now_s += 0.2
    assert not post.overdue(clock.now_s)
    assert clock.sent == [("one", signal.SIGTERM)]
    clock.now_s += POLITE_S
    assert not post.overdue(clock.now_s)
    assert clock.sent[-1] == ("group", signal.SIGKILL)
    clock.now_s += POLITE_S
    assert post.overdue(clock.now_s), "the kernel does not let it go: it is replaced all the same"
    assert post.end(clock.now_s) == ["ended", ["top"], "no answer within 6 s"]


def test_pauses_before_a_new_worker_grow_and_shrink_again_after_a_good_time(post: Post, clock: Clock) -> None:
    pauses = []
    for _ in range(7):
        post.pipe, theirs = channel_pair()
        theirs.close()
        post.end(clock.now_s)
        pauses.append(post.starts_s - clock.now_s)
    assert pauses == [0.5, 1.0, 2.0, 4.0, 8.0, 8.0, 8.0]
    post.pipe, theirs = channel_pair()
    theirs.close()
    post.end(clock.now_s + 61.0)
    assert post.starts_s - (clock.now_s + 61.0) == 0.5


def test_a_main_process_that_takes_nothing_never_holds_the_reader_up() -> None:
    ours, theirs = channel_pair()
    with ours, theirs:
        theirs.setblocking(False)
        reader = Reader(theirs, {"devices": [], "pin_factory": "mock", "mock_levels": ""})
        for _ in range(5000):
            reader._send(b"x" * 500)
        assert reader._lost > 0


def test_inputs_share_a_worker_and_every_other_device_has_its_own() -> None:
    job = {
        "devices": [["a", "w1", {}], ["b", "input", {}], ["c", "hwmon", {}], ["d", "input", {}]],
        "pin_factory": "mock",
        "mock_levels": "",
    }
    assert [[spec.name for spec in post.specs] for post in process._posts(job)] == [["a"], ["c"], ["b", "d"]]


def test_the_reader_imports_little() -> None:
    """A megabyte here is a megabyte in each worker's share, on a Pi of 512."""
    script = "import sys, dryward_hardware.reader.process, dryward_hardware.drivers.kinds as k; k.prepare(k.CLASSES); print(*sys.modules)"
    done = subprocess.run(
        [sys.executable, "-S", "-P", "-c", script],
        env={"PYTHONPATH": os.pathsep.join(sys.path)},
        capture_output=True,
        text=True,
        check=True,
    )
    loaded = {name.partition(".")[0] for name in done.stdout.split()}
    assert not loaded & {
        "pydantic",
        "annotated_types",
        "gpiozero",
        "board",
        "adafruit_dht",
        "subprocess",
        "logging",
        "asyncio",
        "threading",
        "decimal",
    }


def test_a_reader_whose_pipe_was_never_used_ends() -> None:
    ours, theirs = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
    child = subprocess.Popen(
        [sys.executable, "-P", "-m", "dryward_hardware.reader", str(theirs.fileno())],
        pass_fds=[theirs.fileno()],
        env={"PYTHONPATH": os.pathsep.join(sys.path)},
    )
    theirs.close()
    ours.close()
    assert child.wait(10.0) == 0


def test_nothing_is_left_of_the_reader_when_the_main_process_is_killed(tmp_path: Path) -> None:
    """One worker hangs in a read that never returns, one in an open that never does; the rest are well."""
    tree = KernelTree(tmp_path)
    tree.hwmon(0, "sht4x", temperature=21000, humidity=50000)
    fifo = tmp_path / "bus/w1/devices/28-stuck/w1_slave"
    fifo.parent.mkdir(parents=True)
    os.mkfifo(fifo)
    parent = subprocess.Popen(
        [sys.executable, str(Path(__file__).with_name("reader_parent.py")), str(tmp_path)],
        env={**os.environ, "PYTHONPATH": os.pathsep.join([str(ROOT / "hardware"), *sys.path])},
        stdout=subprocess.PIPE,
        text=True,
    )
    assert parent.stdout is not None
    pidfds = [os.pidfd_open(int(pid)) for pid in parent.stdout.readline().split()]
    assert len(pidfds) == 4, "the reader and three workers"
    parent.kill()
    parent.wait()
    parent.stdout.close()
    for pidfd in pidfds:
        wait_gone(pidfd, within_s=5.0)
