"""What every device owes the loop: the same assertions on simulated, file-backed and real ones.

Real devices are named by the environment and skipped without it, such as
``DRYWARD_REAL_DHT22=4 DRYWARD_REAL_W1=28-0123456789ab DRYWARD_REAL_HWMON=sht4x python -m pytest -m hardware``
(also ``_DHT11``, ``_IIO``, ``_HX711``, ``_NAU7802`` with a bus number, ``_INPUT`` with a line).
"""

from __future__ import annotations

import math
import os
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path
from threading import Event

import pytest

from dryward_hardware.open import Together, open_devices
from dryward_hardware.ports import DeviceSpec, Sample, Source
from tests.hardware.kernel_tree import W1_GOOD, KernelTree, w1_slave

FRESH_S = 10.0  # F4 of the fault contract: heat goes off when the control reading is older
RATED = {
    "temperature": (-200.0, 400.0),
    "air": (-40.0, 125.0),
    "humidity": (0.0, 100.0),
    "state": (0.0, 1.0),
    "door": (0.0, 1.0),
    "weight": (-1e6, 1e6),
    "counts": (-8388607.0, 8388606.0),
}
READS = {
    "hx711": ["counts"],
    "nau7802": ["counts"],
    "input": ["state"],
    "dht22": ["temperature", "humidity"],
    "dht11": ["temperature", "humidity"],
}
HARDWARE = {
    "dht22": "gpio",
    "dht11": "gpio",
    "w1": "id",
    "hwmon": "name",
    "iio": "name",
    "hx711": "name",
    "nau7802": "bus",
    "input": "gpio",
}


@dataclass
class Subject:
    """Devices on the bench: what they must give, their clock, and how to break and mend them where that can be done."""

    source: Source
    channels: frozenset[str]
    now: Callable[[], float]
    pause: Callable[[], None]
    break_it: Callable[[], None] | None = None
    mend_it: Callable[[], None] = lambda: None
    heard: list[tuple[float, Sample]] = field(default_factory=list)

    def until_every(self, channel_has: Callable[[list[Sample]], bool], *, within_s: float = 20.0) -> None:
        """Poll until each channel's samples of from now on are as wanted."""
        began, deadline_s = len(self.heard), self.now() + within_s
        while not all(channel_has([s for _, s in self.heard[began:] if s.channel == c]) for c in self.channels):
            assert self.now() < deadline_s, f"not within {within_s} s; heard {self.heard[-5:]}"
            samples = self.source.poll(self.now()).samples
            self.heard += [(self.now(), sample) for sample in samples if sample.channel in self.channels]
            self.pause()


def simulated(tmp_path: Path) -> Subject:
    clock = [0.0]

    def go(to_s: float) -> None:
        clock[0] = to_s

    faults = [
        {"at_s": 60.0, "until_s": 200.0, "kind": "sensor-failed", "channel": c} for c in ("air", "humidity", "door")
    ]
    source = open_devices([DeviceSpec(name="sim", kind="twin", options={"faults": faults})])["sim"]
    channels = frozenset({"sim/air", "sim/humidity", "sim/door"})
    return Subject(source, channels, lambda: clock[0], lambda: go(clock[0] + 1.0), lambda: go(60.0), lambda: go(200.0))


def filed(tmp_path: Path) -> Subject:
    """Put the files of one device of each kind into a faked /sys and read them through one reader process."""
    tree = KernelTree(tmp_path)
    tree.w1(w1_slave(W1_GOOD))
    tree.hwmon(2, "sht4x", temperature=65432, humidity=23456)
    tree.iio(0, "dht11@4", temp_input=35100, humidityrelative_input=65200)
    tree.iio(1, "hx711", label="hook-1", voltage0_raw=8388608 + 101_000)
    root = {"root": str(tmp_path)}
    specs = [
        DeviceSpec(name="w1", kind="w1", options={"id": "28-000000000001", **root}),
        DeviceSpec(name="hwmon", kind="hwmon", options={"name": "sht4x", **root}),
        DeviceSpec(name="iio", kind="iio", options={"name": "dht11", **root}),
        DeviceSpec(name="hx711", kind="hx711", options={"name": "hook-1", "g_per_count": 0.01, **root}),
    ]
    channels = {
        "w1/temperature",
        "hwmon/temperature",
        "hwmon/humidity",
        "iio/temperature",
        "iio/humidity",
        "hx711/weight",
        "hx711/counts",
    }
    bus, away = tmp_path / "bus", tmp_path / "away"

    def break_it() -> None:
        bus.rename(away)
        (tmp_path / "class").rename(tmp_path / "class-away")

    def mend_it() -> None:
        away.rename(bus)
        (tmp_path / "class-away").rename(tmp_path / "class")

    return on_machine_time(specs, channels, break_it=break_it, mend_it=mend_it)


def mocked(tmp_path: Path) -> Subject:
    return on_machine_time(
        [DeviceSpec(name="reed", kind="input", options={"gpio": 5})], {"reed/state"}, pin_factory="mock"
    )


def real(kind: str) -> Subject:
    """Open the real device that the environment names."""
    named = os.environ.get(f"DRYWARD_REAL_{kind.upper()}")
    if named is None:
        pytest.skip(f"DRYWARD_REAL_{kind.upper()} names no real device")
    key = HARDWARE[kind]
    options: dict[str, object] = {key: int(named) if key in ("gpio", "bus") else named}
    return on_machine_time(
        [DeviceSpec(name=kind, kind=kind, options=options)],
        {f"{kind}/{what}" for what in READS.get(kind, ["temperature"])},
    )


def on_machine_time(
    specs: list[DeviceSpec], channels: set[str], *, pin_factory: str = "lgpio", **how: Callable[[], None]
) -> Subject:
    opened, event = open_devices(specs, pin_factory=pin_factory), Event()
    return Subject(Together(opened), frozenset(channels), time.monotonic, lambda: event.wait(0.05) and None, **how)


SUBJECTS = [
    pytest.param(simulated, id="simulated"),
    pytest.param(filed, id="file-backed"),
    pytest.param(mocked, id="mock-pins"),
    *(pytest.param(kind, id=f"real-{kind}", marks=pytest.mark.hardware) for kind in HARDWARE),
]


@pytest.fixture(params=SUBJECTS)
def subject(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Subject]:
    made = real(request.param) if isinstance(request.param, str) else request.param(tmp_path)
    yield made
    made.source.close()


def test_a_device_reads_fails_returns_and_says_nothing_that_is_not_so(subject: Subject) -> None:
    """One walk, since opening a device and waiting for it costs seconds."""
    assert isinstance(subject.source, Source)
    subject.until_every(lambda samples: sum(s.value is not None for s in samples) >= 2)
    for channel in subject.channels:
        taken = [s.sampled_s for _, s in subject.heard if s.channel == channel]
        assert max(b - a for a, b in pairwise(taken)) <= FRESH_S / 2 + 0.5, "one reading may fail and it is still fresh"
    if subject.break_it is not None:
        subject.break_it()
        subject.until_every(lambda samples: any(s.value is None for s in samples))
        subject.mend_it()
        subject.until_every(lambda samples: any(s.value is not None for s in samples))
    newest: dict[str, float] = {}
    for heard_s, sample in subject.heard:
        low, high = RATED[sample.channel.partition("/")[2]]
        assert (sample.value is None) == bool(sample.fault), "a value or a reason, never both, never neither"
        assert sample.value is None or low <= sample.value <= high
        assert 0.0 <= heard_s - sample.sampled_s < FRESH_S, "neither of the future nor stale when it arrives"
        assert sample.sampled_s > newest.get(sample.channel, -math.inf), "no reading comes twice"
        newest[sample.channel] = sample.sampled_s
