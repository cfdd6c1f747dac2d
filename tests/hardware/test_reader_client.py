"""The reader as the loop holds it: real processes on a faked /sys, killed, stopped and hung while polling goes on."""

from __future__ import annotations

import itertools
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from threading import Event

import pytest

from dryward_hardware.open import open_devices
from dryward_hardware.ports import DevicesError, DeviceSpec, Sample, Source
from dryward_hardware.reader import client as module
from dryward_hardware.reader.client import ReaderClient, reader_of
from tests.hardware.keeper_stand import wait_gone
from tests.hardware.kernel_tree import W1_GOOD, KernelTree, w1_slave


@dataclass
class Bench:
    """A faked /sys and a client on it that is polled as the loop would, only faster."""

    tree: KernelTree
    clients: list[ReaderClient] = field(default_factory=list)
    samples: list[Sample] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    longest_poll_s: float = 0.0

    def client(self, *specs: DeviceSpec, respawn_s: float = 0.0, mock_levels: str = "") -> ReaderClient:
        self.clients.append(ReaderClient(specs, pin_factory="mock", mock_levels=mock_levels, respawn_s=respawn_s))
        return self.clients[-1]

    def spec(self, device: str, kind: str, **options: object) -> DeviceSpec:
        rooted = {"root": str(self.tree.root)} if kind not in ("input", "dht22") else {}
        return DeviceSpec(name=device, kind=kind, options={**rooted, **options})

    def poll(self) -> None:
        began_s = time.monotonic()
        batch = self.clients[-1].poll(began_s)
        now_s = time.monotonic()
        self.longest_poll_s = max(self.longest_poll_s, now_s - began_s)
        assert all(now_s - s.sampled_s >= 0.0 for s in batch.samples)
        self.samples += batch.samples
        self.notes += batch.notes

    def until(self, condition: Callable[[], object], *, within_s: float = 10.0) -> None:
        deadline_s, pause = time.monotonic() + within_s, Event()
        while not condition():
            assert time.monotonic() < deadline_s, f"not within {within_s} s; notes: {self.notes}"
            self.poll()
            pause.wait(0.01)

    def fresh(self, channel: str, *, within_s: float = 10.0) -> Sample:
        """Poll until a sample of the channel arrives that was taken from now on."""
        now_s = time.monotonic()
        found: list[Sample] = []

        def arrived() -> bool:
            found[:] = [s for s in self.samples if s.channel == channel and s.sampled_s >= now_s]
            return bool(found)

        self.until(arrived, within_s=within_s)
        return found[0]

    def workers(self) -> list[int]:
        process = self.clients[-1]._process
        return sorted(pid for pid in self.clients[-1].pids() if process is not None and pid != process.pid)


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    bench = Bench(KernelTree(tmp_path))
    bench.tree.hwmon(3, "sht4x", temperature=65432, humidity=23456)
    bench.tree.w1(w1_slave(W1_GOOD))
    yield bench
    for client in bench.clients:
        left = client.pids()
        client.close()
        assert not [pid for pid in left if os.path.exists(f"/proc/{pid}")], "a process of the reader is left"


def test_devices_are_read_side_by_side_and_stamped_on_the_monotonic_clock(bench: Bench) -> None:
    bench.client(
        bench.spec("top", "hwmon", name="sht4x"),
        bench.spec("rear", "w1", id="28-000000000001"),
        bench.spec("reed", "input", gpio=5, pull="up", active_high=True),
    )
    bench.until(
        lambda: (
            {"top/temperature", "top/humidity", "rear/temperature", "reed/state"} <= {s.channel for s in bench.samples}
        )
    )
    assert {s.channel: s.value for s in bench.samples} == {
        "top/temperature": 65.432,
        "top/humidity": 23.456,
        "rear/temperature": 23.125,
        "reed/state": 1.0,
    }
    second = bench.fresh("top/temperature")
    assert time.monotonic() - second.sampled_s < 1.0
    assert bench.clients[0].status()["devices"]["top"]["reads"] >= 2  # type: ignore[index]


def test_a_read_that_never_returns_costs_only_its_own_device(bench: Bench) -> None:
    """A FIFO that nobody writes stands for a sensor file that hangs; then the file is well again."""
    hung = bench.tree.root / "class/hwmon/hwmon4/temp1_input"
    bench.tree.put("class/hwmon/hwmon4/name", "sht3x\n")
    os.mkfifo(hung)
    client = bench.client(bench.spec("hung", "hwmon", name="sht3x"), bench.spec("top", "hwmon", name="sht4x"))
    first = bench.fresh("top/temperature")
    bench.until(lambda: client.intake.counts["hung"].respawns, within_s=12.0)
    assert any("hung: the reading ended (no answer within 6.2 s)" in note for note in bench.notes)
    good = [s.sampled_s for s in bench.samples if s.channel == "top/temperature"]
    assert max(b - a for a, b in itertools.pairwise(good)) < 3.0, "the other device never paused"
    assert time.monotonic() - first.sampled_s > 6.0
    hung.unlink()
    hung.write_text("21000\n")
    assert bench.fresh("hung/temperature", within_s=12.0).value == 21.0
    assert bench.longest_poll_s < 0.5


def test_a_device_that_vanishes_and_returns_is_read_again(bench: Bench) -> None:
    bench.client(bench.spec("rear", "w1", id="28-000000000001"))
    assert bench.fresh("rear/temperature").value == 23.125
    (bench.tree.root / "bus/w1/devices/28-000000000001/w1_slave").unlink()
    bench.until(lambda: bench.samples[-1].fault == "not there")
    assert bench.samples[-1].value is None
    bench.tree.w1(w1_slave(W1_GOOD))
    bench.until(lambda: bench.samples[-1].value == 23.125)


def test_a_reader_killed_a_hundred_times_is_replaced_each_time_and_leaves_nothing(bench: Bench) -> None:
    client = bench.client(bench.spec("top", "hwmon", name="sht4x"), bench.spec("rear", "w1", id="28-000000000001"))
    seen: set[int] = set()
    for kill in range(100):
        if kill % 10 == 0:
            bench.fresh("top/temperature")
        assert client._process is not None
        pid = client._process.pid
        seen |= client.pids()
        os.kill(pid, signal.SIGKILL)
        bench.until(lambda before=pid: client._process is not None and client._process.pid != before)  # type: ignore[misc]
    assert bench.fresh("top/temperature").value == 65.432
    assert client.respawns == 100
    assert bench.longest_poll_s < 0.5
    bench.until(lambda: not [pid for pid in seen - client.pids() if os.path.exists(f"/proc/{pid}")], within_s=3.0)


def test_a_worker_that_is_killed_is_replaced_alone(bench: Bench) -> None:
    client = bench.client(bench.spec("top", "hwmon", name="sht4x"))
    bench.fresh("top/temperature")
    (worker,) = bench.workers()
    os.kill(worker, signal.SIGKILL)
    bench.fresh("top/temperature")
    assert bench.workers() != [worker]
    assert (client.respawns, client.intake.counts["top"].respawns) == (0, 1)


def test_a_reader_that_stands_still_is_noticed_by_its_silence_and_replaced(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "SILENT_S", 1.5)
    monkeypatch.setattr(module, "START_S", 1.5)
    client = bench.client(bench.spec("top", "hwmon", name="sht4x"))
    bench.fresh("top/temperature")
    assert client._process is not None
    stopped = os.pidfd_open(client._process.pid)
    signal.pidfd_send_signal(stopped, signal.SIGSTOP)
    bench.until(lambda: client.respawns == 1)
    wait_gone(stopped, within_s=3.0)
    assert any("it has said nothing for 1.5 s" in note for note in bench.notes)
    assert bench.fresh("top/temperature").value == 65.432


def test_a_device_that_cannot_be_opened_is_silent_told_once_and_tried_again(bench: Bench) -> None:
    """Here a DHT22: this machine has no such line."""
    client = bench.client(bench.spec("dht", "dht22", gpio=4), bench.spec("top", "hwmon", name="sht4x"))
    bench.until(lambda: client.intake.counts["dht"].respawns >= 2)
    assert {s.channel for s in bench.samples} <= {"top/temperature", "top/humidity"}
    assert len([note for note in bench.notes if note.startswith("dht: the reading ended")]) == 1


def test_mock_pins_follow_a_file(bench: Bench, tmp_path: Path) -> None:
    levels = tmp_path / "levels"
    levels.write_text("5 0\n")
    bench.client(bench.spec("reed", "input", gpio=5, pull="up", active_high=True), mock_levels=str(levels))
    assert bench.fresh("reed/state").value == 0.0
    levels.write_text("5 1\n")
    began_s = time.monotonic()
    bench.until(lambda: bench.samples[-1].value == 1.0)
    assert time.monotonic() - began_s < 1.0


def test_a_reader_that_cannot_be_started_is_told_and_tried_again(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    with monkeypatch.context() as patch:
        patch.setattr(module.sys, "executable", "/nowhere/python")
        client = bench.client(bench.spec("top", "hwmon", name="sht4x"))
        bench.until(lambda: client.respawns > 2)
        assert "it cannot be started (No such file or directory)" in bench.notes[0]
    assert bench.fresh("top/temperature").value == 65.432


def test_closing_is_quick_and_for_good(bench: Bench) -> None:
    client = bench.client(bench.spec("top", "hwmon", name="sht4x"))
    bench.fresh("top/temperature")
    began_s = time.monotonic()
    client.close()
    client.close()
    assert time.monotonic() - began_s < 1.5
    bench.poll()
    assert client.pids() == frozenset()


def test_devices_opened_together_share_one_reader(bench: Bench) -> None:
    opened = open_devices(
        [bench.spec("top", "hwmon", name="sht4x"), bench.spec("rear", "w1", id="28-000000000001")], pin_factory="mock"
    )
    try:
        assert all(isinstance(source, Source) for source in opened.values())
        reader = reader_of(opened)
        assert reader is not None
        heard: set[str] = set()
        pause = Event()
        deadline_s = time.monotonic() + 10.0
        while {"top/temperature", "rear/temperature"} - heard:
            assert time.monotonic() < deadline_s
            heard |= {s.channel for s in opened["top"].poll(time.monotonic()).samples}
            assert all(channel.startswith("top/") for channel in heard if channel != "rear/temperature")
            heard |= {s.channel for s in opened["rear"].poll(time.monotonic()).samples}
            pause.wait(0.02)
    finally:
        for source in opened.values():
            source.close()
    assert reader_of({}) is None


def test_mistakes_in_options_are_found_before_anything_is_started(bench: Bench) -> None:
    with pytest.raises(DevicesError, match=r"gpio is 40, the most is 27.*nmae is no option; did you mean name\?"):
        open_devices([bench.spec("reed", "input", gpio=40), bench.spec("top", "hwmon", nmae="sht4x")])


def test_the_main_process_keeps_its_signal_handlers_and_never_sees_the_sensor_libraries() -> None:
    script = """
import signal, sys, time
from dryward_hardware.open import open_devices
from dryward_hardware.ports import DeviceSpec
before = [signal.getsignal(n) for n in (signal.SIGTERM, signal.SIGINT)]
opened = open_devices([DeviceSpec(name="dht", kind="dht22", options={"gpio": 4})], pin_factory="mock")
end = time.monotonic() + 1.0
while time.monotonic() < end:
    opened["dht"].poll(time.monotonic())
opened["dht"].close()
assert [signal.getsignal(n) for n in (signal.SIGTERM, signal.SIGINT)] == before
assert not {"board", "adafruit_dht", "gpiozero", "lgpio"} & set(sys.modules)
print("kept")
"""
    done = subprocess.run(
        [sys.executable, "-c", script],
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.stdout == "kept\n", done.stderr
