"""Every kind has its driver, made with the options it was checked for."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path

import pytest

from dryward_hardware.drivers.hwmon import Hwmon
from dryward_hardware.drivers.hx711 import Hx711
from dryward_hardware.drivers.iio import Iio
from dryward_hardware.drivers.kinds import CLASSES, make, prepare
from dryward_hardware.drivers.options import OPTIONS
from dryward_hardware.drivers.w1 import W1
from dryward_hardware.open import READ_APART
from dryward_hardware.ports import DeviceSpec


def test_every_kind_that_the_reader_reads_has_a_driver() -> None:
    assert set(CLASSES) == set(READ_APART)
    prepare(CLASSES)


@pytest.mark.parametrize(
    ("kind", "options", "driver"),
    [
        ("w1", {"id": "28-1"}, W1),
        ("hwmon", {"name": "sht4x"}, Hwmon),
        ("iio", {"name": "max31865", "zero_ohm": 1000.0}, Iio),
        ("hx711", {"calibration": "2031-04-02"}, Hx711),
    ],
)
def test_a_driver_is_made_with_all_its_options(
    tmp_path: Path, kind: str, options: dict[str, object], driver: type
) -> None:
    whole = asdict(OPTIONS[kind](root=str(tmp_path), **options))
    made = make(DeviceSpec(name="x", kind=kind, options=whole), pin_factory="mock")
    assert isinstance(made, driver)
    assert made.deadline_s > 0
    assert made.reads
    made.close()
