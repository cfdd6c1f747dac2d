"""Sensors under bus/iio: units and scales by the kernel's ABI, and the two chips that need more."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from dryward_hardware.drivers import iio as module
from dryward_hardware.drivers.iio import Iio
from dryward_hardware.reader.driver import Value, read_once
from tests.hardware.kernel_tree import KernelTree


@pytest.fixture
def tree(tmp_path: Path) -> KernelTree:
    return KernelTree(tmp_path)


def read(tree: KernelTree, name: str, **options: float) -> dict[str, Value]:
    return {value.what: value for value in read_once(Iio(name=name, root=str(tree.root), **options))}


def test_a_dht_tells_thousandths_of_both(tree: KernelTree) -> None:
    """35.1 degC and 65.2 %RH are the DHT22 datasheet's example frame 02 8c 01 5f ee."""
    tree.iio(0, "dht11@4", temp_input=35100, humidityrelative_input=65200)
    assert read(tree, "dht11@4")["temperature"].value == 35.1
    assert read(tree, "dht11")["humidity"].value == 65.2, "the unit after @ may be left out"


def test_an_empty_frame_of_a_dht_is_refused(tree: KernelTree) -> None:
    tree.iio(0, "dht11@4", temp_input=0, humidityrelative_input=0)
    assert {v.fault for v in read(tree, "dht11").values()} == {"nothing but zeros"}


def test_raw_offset_and_scale_are_put_together_as_the_abi_says(tree: KernelTree) -> None:
    """(raw + offset) x scale, thousandths. Figures of the TI HDC100x datasheet: T = raw / 2^16 x 165 - 40, RH = raw / 2^16 x 100."""
    tree.iio(
        0,
        "hdc100x",
        temp_raw=26000,
        temp_offset=-15887.515151515,
        temp_scale=2.517700195,
        humidityrelative_raw=30000,
        humidityrelative_scale=1.525878906,
    )
    values = read(tree, "hdc100x")
    assert values["temperature"].value == pytest.approx(26000 / 65536 * 165 - 40, abs=1e-4)
    assert values["humidity"].value == pytest.approx(30000 / 65536 * 100, abs=1e-4)


@pytest.mark.parametrize(("ohm", "celsius"), [(100.0, 0.0), (119.3971, 50.0), (130.8968, 80.0), (138.5055, 100.0)])
def test_a_platinum_probe_is_read_by_its_resistance(tree: KernelTree, ohm: float, celsius: float) -> None:
    """IEC 60751 rows; the driver's own scale would give 256 degC too much. One count is 0.03 K."""
    tree.iio(0, "max31865", temp_raw=round(ohm / 430.0 * 32768), temp_scale="31.250000")
    assert read(tree, "max31865")["temperature"].value == pytest.approx(celsius, abs=0.03)
    tree.iio(0, "max31865", temp_raw=round(10 * ohm / 4300.0 * 32768), temp_scale="31.250000")
    assert read(tree, "max31865", reference_ohm=4300.0, zero_ohm=1000.0)["temperature"].value == pytest.approx(
        celsius, abs=0.03
    )


def test_two_platinum_probes_told_apart_by_labels_are_both_read_as_such(tree: KernelTree) -> None:
    """IEC 60751: 119.3971 ohm at 50 degC, 130.8968 ohm at 80 degC."""
    for number, (label, ohm) in enumerate((("core", 119.3971), ("air", 130.8968))):
        tree.iio(number, "max31865", label=label, temp_raw=round(ohm / 430.0 * 32768), temp_scale="31.250000")
    assert read(tree, "max31865")["temperature"].fault == "several devices of that name: give them labels"
    assert read(tree, "core")["temperature"].value == pytest.approx(50.0, abs=0.03)
    assert read(tree, "air")["temperature"].value == pytest.approx(80.0, abs=0.03)


@pytest.mark.parametrize("count", [0, 32767])
def test_a_shorted_or_broken_platinum_probe_is_refused(tree: KernelTree, count: int) -> None:
    tree.iio(0, "max31865", temp_raw=count, temp_scale="31.250000")
    assert read(tree, "max31865")["temperature"].fault == "end of the range"


@pytest.mark.parametrize(("hot_c", "cold_c"), [(80.0, 25.0), (65.0, 25.0), (100.0, 0.0)])
def test_a_type_k_wire_is_straightened_by_its_cold_junction(tree: KernelTree, hot_c: float, cold_c: float) -> None:
    """What the MAX31855 makes of the ITS-90 voltages (its datasheet: 41.276 uV a degree) is undone to within its 0.25 K step."""
    voltage = {0.0: 0.0, 25.0: 1.0002, 65.0: 2.6437, 80.0: 3.2666, 100.0: 4.0962}
    chip_c = cold_c + (voltage[hot_c] - voltage[cold_c]) / 0.041276
    tree.iio(
        0,
        "maxim_thermocouple",
        compatible="maxim,max31855k",
        temp_raw=round(chip_c / 0.25),
        temp_scale=250,
        temp_ambient_raw=round(cold_c / 0.0625),
        temp_ambient_scale="62.500000",
        temp_thermocouple_type="K",
    )
    assert read(tree, "max31855k")["temperature"].value == pytest.approx(hot_c, abs=0.13)


def test_a_chip_that_knows_its_wire_is_left_alone(tree: KernelTree) -> None:
    tree.iio(
        0,
        "max31856",
        temp_raw=10240,
        temp_scale="7.812500",
        temp_ambient_raw=6400,
        temp_ambient_scale="3.906250",
        temp_thermocouple_type="K",
    )
    assert read(tree, "max31856")["temperature"].value == 80.0


def test_a_thermocouple_chip_without_cold_junction_is_taken_at_its_word(tree: KernelTree) -> None:
    tree.iio(
        0, "maxim_thermocouple", compatible="maxim,max6675", temp_raw=320, temp_scale=250, temp_thermocouple_type="K"
    )
    assert read(tree, "max6675")["temperature"] == Value("temperature", 80.0)
    assert read(tree, "maxim_thermocouple")["temperature"] == Value("temperature", 80.0)


@pytest.mark.parametrize(
    ("number", "fault"),
    [
        (errno.EIO, "input/output error"),
        (errno.ETIMEDOUT, "no answer"),
        (errno.EREMOTEIO, "no answer"),
        (errno.ENODEV, "not there"),
        (errno.EINVAL, "the chip reports a broken or shorted wire"),
        (errno.EPERM, os.strerror(errno.EPERM).lower()),
    ],
)
def test_the_kernels_errors_are_missed_samples_in_fixed_words(
    tree: KernelTree, monkeypatch: pytest.MonkeyPatch, number: int, fault: str
) -> None:
    tree.iio(0, "dht11", temp_input=1, humidityrelative_input=1)

    def failing(path: str) -> float:
        raise OSError(number, os.strerror(number), path)

    monkeypatch.setattr(module, "read_number", failing)
    assert {(v.value, v.fault) for v in read(tree, "dht11").values()} == {(None, fault)}


def test_a_type_k_wire_has_its_own_rating_under_the_chips_name_in_the_device_tree_and_under_a_label(
    tree: KernelTree,
) -> None:
    tree.iio(0, "maxim_thermocouple", compatible="maxim,max31855k", label="duct", temp_raw=640, temp_scale=250)
    for name in ("max31855k", "duct"):
        assert read(tree, name)["temperature"] == Value("temperature", 160.0)


def test_ratings_go_by_the_name(tree: KernelTree) -> None:
    tree.iio(0, "dht11", temp_input=51000, humidityrelative_input=104000)
    assert {v.fault for v in read(tree, "dht11").values()} == {"outside the rating"}
    tree.iio(0, "bme280", temp_input=51000, humidityrelative_input=101500)
    assert [v.value for v in read(tree, "bme280").values()] == [51.0, 100.0], "the sensor's own error is cropped"


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=150)
@given(
    name=st.sampled_from(["dht11", "max31865", "maxim_thermocouple"]),
    contents=st.fixed_dictionaries(
        {},
        optional={
            file: st.one_of(st.binary(max_size=40), st.floats().map(str), st.integers().map(str))
            for file in (
                "temp_input",
                "temp_raw",
                "temp_offset",
                "temp_scale",
                "temp_ambient_raw",
                "temp_thermocouple_type",
                "humidityrelative_input",
            )
        },
    ),
)
def test_whatever_stands_in_the_files_nothing_breaks_and_nothing_impossible_is_believed(
    tree: KernelTree, name: str, contents: dict[str, str | bytes]
) -> None:
    place = tree.iio(0, name)
    for old in place.glob("in_*"):
        old.unlink()
    for file, content in contents.items():
        tree.put(f"bus/iio/devices/iio:device0/in_{file}", content)
    for value in read(tree, name).values():
        assert (value.value is None) == bool(value.fault)
        limits = (0.0, 100.0) if value.what == "humidity" else (-200.0, 250.0)
        assert value.value is None or limits[0] <= value.value <= limits[1]
