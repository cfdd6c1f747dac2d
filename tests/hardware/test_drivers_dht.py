"""DHT11 and DHT22: real pulse trains through the library's own decoder."""

from __future__ import annotations

import array
import contextlib
import io
import re
import sys
import tomllib
from collections.abc import Callable, Iterable
from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from dryward_hardware.drivers.dht import Dht
from dryward_hardware.reader.driver import Value, read_once

with contextlib.redirect_stdout(io.StringIO()):  # the library tells a board without pins so
    import adafruit_dht

GOOD = bytes.fromhex("028c015fee")  # DHT22 datasheet: 65.2 %RH, 35.1 degC
FROST = bytes.fromhex("028c806573")  # DHT22 datasheet: 65.2 %RH, -10.1 degC


def train(frame: bytes) -> list[int]:
    """Return the pulses of a frame, us, low and high by turns, as the datasheet draws them: 50 low; 26 high is 0, 70 is 1."""
    bits = [byte >> n & 1 for byte in frame for n in range(7, -1, -1)]
    return [pulse for bit in bits for pulse in (50, 70 if bit else 26)] + [50]


def summed(*frame: int) -> bytes:
    return bytes([*frame, sum(frame) & 0xFF])


class Line:
    """The clock and the wire: hands a pulse train to the library for each measurement it starts."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch | None, kind: str = "dht22") -> None:
        self.now_s = 100.0
        self.trains: list[list[int]] = []
        self.measured = 0
        make = adafruit_dht.DHT11 if kind == "dht11" else adafruit_dht.DHT22
        self.sensor = make(4, use_pulseio=False)
        self.sensor._get_pulses_bitbang = self._pulses
        self.driver = Dht(kind=kind, gpio=4, sensor=self.sensor, clock=lambda: self.now_s)

    def _pulses(self) -> array.array[int]:
        self.measured += 1
        return array.array("H", self.trains.pop(0))

    def read(self, *trains: list[int]) -> tuple[Value, ...]:
        self.trains = list(trains)
        self.now_s += self.driver.period_s
        return read_once(self.driver)


@pytest.fixture
def clocked(monkeypatch: pytest.MonkeyPatch) -> Callable[[str], Line]:
    """Make lines on whose clock the library runs as well."""
    lines: list[Line] = []
    monkeypatch.setattr(adafruit_dht.time, "monotonic", lambda: lines[-1].now_s)

    def make(kind: str = "dht22") -> Line:
        lines.append(Line(monkeypatch, kind))
        return lines[-1]

    return make


def values(read: Iterable[Value]) -> list[float | None]:
    return [value.value for value in read]


@pytest.mark.parametrize(
    ("frame", "shown"), [(GOOD, [35.1, 65.2]), (FROST, [-10.1, 65.2]), (summed(3, 232, 3, 32), [80.0, 100.0])]
)
def test_the_datasheets_frames_are_decoded(clocked: Callable[[str], Line], frame: bytes, shown: list[float]) -> None:
    assert values(clocked("dht22").read(train(frame))) == shown


def test_a_dht11_is_decoded_by_its_own_rule(clocked: Callable[[str], Line]) -> None:
    """DHT11 datasheet: whole per cent, whole degrees and a tenth."""
    assert values(clocked("dht11").read(train(summed(53, 0, 24, 4)))) == [24.4, 53.0]


def test_both_values_are_of_one_measurement(clocked: Callable[[str], Line]) -> None:
    line = clocked("dht22")
    line.read(train(GOOD))
    assert line.measured == 1


@pytest.mark.parametrize(
    ("pulses", "fault"),
    [
        ([], "no answer"),
        (train(GOOD)[:60], "incomplete answer"),
        (train(GOOD[:4] + b"\xef"), "checksum failed"),
        (train(bytes(5)), "nothing but zeros"),
        (train(summed(0, 0, 0x80, 0)), "nothing but zeros"),
        (train(summed(4, 0, 1, 0)), "outside the rating"),
    ],
)
def test_a_frame_that_is_no_reading_is_refused_and_nothing_old_takes_its_place(
    clocked: Callable[[str], Line], pulses: list[int], fault: str
) -> None:
    line = clocked("dht22")
    assert values(line.read(train(GOOD))) == [35.1, 65.2]
    assert line.read(pulses) == (Value("temperature", None, fault), Value("humidity", None, fault))
    assert line.read(pulses)[0].fault == fault
    assert values(line.read(train(FROST))) == [-10.1, 65.2]


def test_the_library_itself_would_have_given_the_old_value(clocked: Callable[[str], Line]) -> None:
    """The trap the driver is built round; when this fails the library has changed and the driver may become simpler."""
    line = clocked("dht22")
    line.read(train(GOOD))
    line.read([])
    assert line.sensor.temperature == 35.1


@pytest.mark.parametrize(
    ("kind", "frame"),
    [
        ("dht22", summed(0, 100, 3, 33)),
        ("dht22", summed(0, 100, 0x81, 0x91)),
        ("dht22", summed(0, 100, 5, 220)),
        ("dht11", summed(40, 0, 51, 0)),
    ],
)
def test_a_temperature_outside_the_rating_is_refused_and_the_humidity_stands(
    clocked: Callable[[str], Line], kind: str, frame: bytes
) -> None:
    temperature, humidity = clocked(kind).read(train(frame))
    assert (temperature.value, temperature.fault) == (None, "outside the rating")
    assert humidity.value is not None


def test_a_read_that_comes_too_soon_waits_instead_of_repeating(
    clocked: Callable[[str], Line], monkeypatch: pytest.MonkeyPatch
) -> None:
    line = clocked("dht22")
    line.read(train(GOOD))
    slept: list[float] = []

    def sleep(pause_s: float) -> None:
        slept.append(pause_s)
        line.now_s += pause_s

    monkeypatch.setattr("dryward_hardware.drivers.dht.time.sleep", sleep)
    line.trains = [train(FROST)]
    assert values(read_once(line.driver)) == [-10.1, 65.2]
    assert slept == [pytest.approx(2.1)]


@settings(max_examples=200)
@given(
    st.lists(
        st.one_of(
            st.lists(st.integers(0, 65535), max_size=130),
            st.binary(min_size=5, max_size=5).map(train),
            st.binary(min_size=4, max_size=4).map(lambda four: train(summed(*four))),
        ),
        min_size=1,
        max_size=5,
    ),
    st.sampled_from(["dht11", "dht22"]),
)
@example([train(summed(1, 0, 1, 0)), []], "dht22")
def test_whatever_pulses_come_nothing_breaks_and_nothing_impossible_or_old_is_believed(
    trains: list[list[int]], kind: str
) -> None:
    with pytest.MonkeyPatch.context() as patch:
        line = Line(patch, kind)
        patch.setattr(adafruit_dht.time, "monotonic", lambda: line.now_s)
        for number, pulses in enumerate(trains, 1):
            temperature, humidity = line.read(pulses)
            assert line.measured == number, "every answer is of a measurement of its own"
            assert (temperature.value is None) == bool(temperature.fault)
            low, high = (0.0, 50.0) if kind == "dht11" else (-40.0, 80.0)
            assert temperature.value is None or low <= temperature.value <= high
            assert humidity.value is None or 0.0 <= humidity.value <= 100.0
            assert (temperature.value, humidity.value) != (0.0, 0.0)


def test_what_the_library_needs_on_a_raspberry_pi_comes_with_us() -> None:
    """Blinka imports the kernel's GPIO library only on a Pi, and does not ask for it: without it no DHT can be read there."""
    from adafruit_blinka.microcontroller.bcm2711 import __file__ as place

    on_a_pi = [Path(place).parent / "pin.py", Path(place).parents[1] / "generic_linux/raspberry_pi_pin.py"]
    named = {
        word
        for file in on_a_pi
        if file.exists()
        for word in re.findall(r"^import (\w+)", file.read_text(), re.MULTILINE)
    }
    ours = tomllib.loads((Path(__file__).parents[2] / "pyproject.toml").read_text())["project"]["dependencies"]
    asked = {re.split(r"[^\w-]", line)[0] for line in ours}
    assert named - sys.stdlib_module_names <= asked
    assert "gpiod" in asked
