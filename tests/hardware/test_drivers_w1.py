"""One-wire thermometers: every way in which the file w1_slave lies is refused."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from dryward_hardware.drivers.w1 import W1, crc8, w1_celsius
from dryward_hardware.reader.driver import Missed, Value, read_once
from tests.hardware.kernel_tree import W1_GOOD, KernelTree, w1_slave, with_crc

# Power-on register map of the DS18B20 datasheet (+85 degC), with its CRC.
W1_POWER_ON = "50 05 4b 46 7f ff 0c 10 1c"
ZEROS = "00 00 00 00 00 00 00 00 00"
# Table "temperature/data relationship" of the DS18B20 datasheet, degC and register.
DATASHEET = {
    125.0: 0x07D0,
    25.0625: 0x0191,
    10.125: 0x00A2,
    0.5: 0x0008,
    -0.5: 0xFFF8,
    -10.125: 0xFF5E,
    -25.0625: 0xFE6F,
    -55.0: 0xFC90,
}


def scratchpad(register: int) -> str:
    return with_crc(bytes([register & 0xFF, register >> 8, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10]))


def test_the_kernel_documents_example_reads_as_it_says() -> None:
    assert w1_celsius(w1_slave(W1_GOOD)) == 23.125


@pytest.mark.parametrize(("celsius", "register"), DATASHEET.items())
def test_the_datasheets_temperatures_are_read(celsius: float, register: int) -> None:
    assert w1_celsius(w1_slave(scratchpad(register), milli=round(celsius * 1000))) == pytest.approx(celsius, abs=0.0005)


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        (w1_slave(W1_POWER_ON, crc="1c", milli=85000), "value after a loss of power"),
        (w1_slave(ZEROS, crc="00", milli=0), "nothing but zeros"),
        (w1_slave("ff" + W1_GOOD[2:], crc="c6", verdict="NO", kept=W1_GOOD), "checksum failed"),
        (w1_slave("73" + W1_GOOD[2:]), "checksum failed"),  # a verdict that the bytes do not bear out
        (w1_slave(W1_GOOD, kept=W1_POWER_ON, milli=85000), "checksum failed"),  # the second line is of another read
        (w1_slave(scratchpad(0x07E0), milli=126000), "outside the rating"),
        (w1_slave(scratchpad(0xFC80), milli=-56000), "outside the rating"),
        ("", "no answer"),  # what newer kernels leave when the sensor is silent
        ("\n", "not a number"),
        (w1_slave(W1_GOOD).replace("t=23125", "t="), "not a number"),
        (w1_slave(W1_GOOD).replace("t=23125", "t=2٣125"), "not a number"),
        (w1_slave(W1_GOOD).replace("t=", "t:"), "not a number"),
        (w1_slave(W1_GOOD).splitlines()[0], "not a number"),
        ("zz" + w1_slave(W1_GOOD)[2:], "not a number"),
    ],
)
def test_a_file_that_is_no_new_reading_is_refused_by_its_reason(text: str, fault: str) -> None:
    with pytest.raises(Missed, match=f"^{fault}$"):
        w1_celsius(text)


@pytest.mark.parametrize("text", [W1_GOOD, W1_POWER_ON, ZEROS])
def test_the_crc_of_the_known_vectors_is_right(text: str) -> None:
    assert crc8(bytes.fromhex(text)) == 0


@given(st.binary(min_size=8, max_size=8))
def test_the_crc_agrees_with_long_division(data: bytes) -> None:
    assert crc8(bytes.fromhex(with_crc(data))) == 0
    assert crc8(data) == int(with_crc(data)[-2:], 16)


@given(st.integers(-880, 2000), st.integers(0, 71))
def test_no_single_wrong_bit_passes(sixteenths: int, wrong: int) -> None:
    good = bytearray.fromhex(scratchpad(sixteenths & 0xFFFF))
    good[wrong // 8] ^= 1 << wrong % 8
    with pytest.raises(Missed):
        w1_celsius(w1_slave(good.hex(" "), milli=sixteenths * 1000 // 16))


def test_a_sensor_that_is_not_there_is_missed_and_comes_back(tmp_path: Path) -> None:
    driver, tree = W1(id="28-000000000001", root=str(tmp_path)), KernelTree(tmp_path)
    assert read_once(driver) == (Value("temperature", None, "not there"),)
    file = tree.w1(w1_slave(W1_GOOD))
    assert read_once(driver) == (Value("temperature", 23.125),)
    file.unlink()
    assert read_once(driver) == (Value("temperature", None, "not there"),)
    tree.w1(w1_slave(W1_GOOD))
    assert read_once(driver) == (Value("temperature", 23.125),)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.one_of(st.binary(max_size=200), st.text(alphabet="0123456789abcdef :=-tcrYESNO\n", max_size=120).map(str.encode))
)
@example(b"\x00" * 74)
@example(w1_slave(W1_GOOD).encode() * 200)
def test_whatever_stands_in_the_file_nothing_breaks_and_nothing_impossible_is_believed(
    tmp_path: Path, content: bytes
) -> None:
    KernelTree(tmp_path).w1(content)
    (value,) = read_once(W1(id="28-000000000001", root=str(tmp_path)))
    assert (value.value is None) == bool(value.fault)
    assert value.value is None or -55.0 <= value.value <= 125.0
