"""Finding a device by any of its names; reading a number and nothing else."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from dryward_hardware.drivers.kernel import find_named, read_number, read_number_if_there, read_text
from dryward_hardware.reader.driver import Missed
from tests.hardware.kernel_tree import KernelTree


def test_a_device_goes_by_its_name_its_label_and_its_device_tree_name(tmp_path: Path) -> None:
    tree = KernelTree(tmp_path)
    one = tree.iio(0, "hx711", label="hook-1", compatible="avia,hx711")
    two = tree.iio(1, "dht11@11")
    folder = str(tmp_path / "bus/iio/devices")
    for name in ("hx711", "hook-1"):
        assert Path(find_named(folder, name)) == one
    for name in ("dht11", "dht11@11"):
        assert Path(find_named(folder, name)) == two


def test_the_device_tree_name_may_stand_one_folder_up(tmp_path: Path) -> None:
    """The folder under bus/iio/devices is a link to one below the chip's own."""
    tree = KernelTree(tmp_path)
    tree.put("devices/spi0/of_node/compatible", "maxim,max6675\0")
    tree.put("devices/spi0/iio:device0/name", "maxim_thermocouple\n")
    link = tmp_path / "bus/iio/devices/iio:device0"
    link.parent.mkdir(parents=True)
    link.symlink_to(tmp_path / "devices/spi0/iio:device0")
    assert find_named(str(link.parent), "max6675") == str(link)


def test_none_and_several_are_told_apart(tmp_path: Path) -> None:
    tree = KernelTree(tmp_path)
    folder = str(tmp_path / "bus/iio/devices")
    with pytest.raises(Missed, match=r"^not there$"):
        find_named(folder, "hx711")
    tree.iio(0, "hx711", label="hook-1")
    tree.iio(1, "hx711", label="hook-2")
    assert find_named(folder, "hook-2").endswith("device1")
    with pytest.raises(Missed, match="give them labels"):
        find_named(folder, "hx711")


@pytest.mark.parametrize(
    ("text", "value"), [("21437\n", 21437.0), ("-1250", -1250.0), ("31.250000\n", 31.25), (" 7 ", 7.0), ("1e3", 1000.0)]
)
def test_a_number_is_read(tmp_path: Path, text: str, value: float) -> None:
    assert read_number(str(KernelTree(tmp_path).put("n", text))) == value


@pytest.mark.parametrize("text", ["x", "1 2", "nan", "inf", "1e999", "-", "1_000", "٣", "0x10", "\0", "12.3.4"])
def test_anything_else_is_no_number(tmp_path: Path, text: str) -> None:
    with pytest.raises(Missed, match=r"^not a number$"):
        read_number(str(KernelTree(tmp_path).put("n", text)))


def test_an_empty_file_is_no_answer_and_an_absent_one_may_have_a_default(tmp_path: Path) -> None:
    with pytest.raises(Missed, match=r"^no answer$"):
        read_number(str(KernelTree(tmp_path).put("n", "\n")))
    assert read_number_if_there(str(tmp_path / "absent"), 2.5) == 2.5


def test_no_more_than_a_page_is_read(tmp_path: Path) -> None:
    assert len(read_text(str(KernelTree(tmp_path).put("n", "9" * 100_000)))) == 4096


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.binary(max_size=100))
def test_names_of_arbitrary_bytes_break_nothing(tmp_path: Path, name: bytes) -> None:
    tree = KernelTree(tmp_path)
    for file in ("name", "label", "of_node/compatible"):
        tree.put(f"f/device0/{file}", name)
    with pytest.raises(Missed, match=r"^not there$"):
        find_named(str(tmp_path / "f"), "sht4x-of-that-name")
