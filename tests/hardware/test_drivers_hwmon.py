"""Sensors under class/hwmon, against the conversion formulas of their makers."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from dryward_hardware.drivers.hwmon import Hwmon
from dryward_hardware.reader.driver import Value, read_once
from tests.hardware.kernel_tree import KernelTree


@pytest.fixture
def tree(tmp_path: Path) -> KernelTree:
    return KernelTree(tmp_path)


def read(tree: KernelTree, name: str = "sht4x") -> tuple[Value, ...]:
    return read_once(Hwmon(name=name, root=str(tree.root)))


@pytest.mark.parametrize("word", [14000, 26214, 40000, 52428])
def test_a_sht4x_reads_as_its_datasheets_formula_says(tree: KernelTree, word: int) -> None:
    """T = -45 + 175 S/65535, RH = -6 + 125 S/65535; the files hold what the kernel makes of S with whole numbers."""
    tree.hwmon(0, "sht4x", temperature=((21875 * word) >> 13) - 45000, humidity=((15625 * word) >> 13) - 6000)
    temperature, humidity = read(tree)
    assert temperature.value == pytest.approx(-45 + 175 * word / 65535, abs=0.005)
    assert humidity.value == pytest.approx(-6 + 125 * word / 65535, abs=0.005)


def test_the_device_is_found_by_its_name_and_not_by_its_number(tree: KernelTree) -> None:
    tree.hwmon(0, "cpu_thermal", temperature=55000)
    place = tree.hwmon(1, "sht3x", temperature=21000, humidity=50000)
    driver = Hwmon(name="sht3x", root=str(tree.root))
    assert [v.value for v in read_once(driver)] == [21.0, 50.0]
    place.rename(place.with_name("hwmon7"))
    tree.hwmon(1, "cpu_thermal", temperature=55000)
    assert [v.value for v in read_once(driver)] == [21.0, 50.0]


def test_two_of_one_name_are_not_guessed_between(tree: KernelTree) -> None:
    tree.hwmon(0, "sht4x", temperature=21000)
    tree.hwmon(1, "sht4x", temperature=22000)
    assert {v.fault for v in read(tree)} == {"several devices of that name: give them labels"}


def test_a_thermometer_without_humidity_gives_only_its_temperature(tree: KernelTree) -> None:
    tree.hwmon(0, "tmp102", temperature=21500)
    assert read(tree, "tmp102") == (Value("temperature", 21.5),)


def test_a_humidity_past_its_ends_is_cropped_by_the_sensors_error_and_refused_beyond(tree: KernelTree) -> None:
    for milli, shown in ((101200, 100.0), (-2900, 0.0), (119000, None), (-6000, None)):
        tree.hwmon(0, "sht4x", temperature=21000, humidity=milli)
        assert read(tree)[1].value == shown
        assert read(tree)[0].value == 21.0


def test_a_device_that_vanishes_and_returns_is_read_again(tree: KernelTree) -> None:
    driver = Hwmon(name="sht4x", root=str(tree.root))
    assert {v.fault for v in read_once(driver)} == {"not there"}
    place = tree.hwmon(2, "sht4x", temperature=21000)
    assert read_once(driver)[0].value == 21.0
    (place / "name").unlink()
    assert read_once(driver)[0].fault == "not there"
    tree.hwmon(3, "sht4x", temperature=22000)
    assert read_once(driver)[0].value == 22.0


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=150)
@given(st.one_of(st.binary(max_size=60), st.floats().map(str), st.integers().map(str)), st.binary(max_size=60))
def test_whatever_stands_in_the_files_nothing_breaks_and_nothing_impossible_is_believed(
    tree: KernelTree, temperature: str | bytes, humidity: bytes
) -> None:
    tree.hwmon(0, "sht4x")
    tree.put("class/hwmon/hwmon0/temp1_input", temperature)
    tree.put("class/hwmon/hwmon0/humidity1_input", humidity)
    values = read(tree)
    assert [v.what for v in values] == ["temperature", "humidity"]
    for value, (low, high) in zip(values, ((-40.0, 125.0), (0.0, 100.0)), strict=True):
        assert (value.value is None) == bool(value.fault)
        assert value.value is None or low <= value.value <= high
