"""Ratings stand in two places: where a value is read and where a program is checked. They are the same figures."""

from __future__ import annotations

import pytest

from dryward.settings.sources import Device, rating
from dryward_hardware.drivers import ratings


def settings_rating(kind: str, **options: object) -> tuple[float, float]:
    return rating(Device(name="x", kind=kind, options=options), "control-air")


@pytest.mark.parametrize(
    ("kind", "ours"),
    [("dht22", ratings.DHT22_C), ("dht11", ratings.DHT11_C), ("w1", ratings.DS18B20_C), ("hwmon", ratings.KERNEL_C)],
)
def test_a_kinds_rating_is_that_of_the_settings(kind: str, ours: tuple[float, float]) -> None:
    assert settings_rating(kind) == ours


@pytest.mark.parametrize("name", ["dht11", "max31865", "max31855", "max31855k", "max6675", "bme280"])
def test_a_rating_by_name_is_that_of_the_settings(name: str) -> None:
    assert settings_rating("iio", name=name) == ratings.kernel_rating(name)
