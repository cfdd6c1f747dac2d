"""Which class drives which kind. For the reader only; a library that a driver needs is imported when it opens a device."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from importlib import import_module
from typing import Any

from dryward_hardware.ports import DeviceSpec
from dryward_hardware.reader.driver import Driver

CLASSES = {
    "w1": "w1:W1",
    "hwmon": "hwmon:Hwmon",
    "iio": "iio:Iio",
    "hx711": "hx711:Hx711",
    "nau7802": "nau7802:Nau7802",
    "dht11": "dht:Dht",
    "dht22": "dht:Dht",
    "input": "contact:Contact",
}
FOR_PEOPLE = frozenset({"calibration"})


def prepare(kinds: Iterable[str]) -> None:
    """Import our own half of these drivers, so that forked workers share it."""
    for kind in set(kinds):
        _driver_class(kind)


def make(spec: DeviceSpec, *, pin_factory: str, mock_levels: str = "") -> Driver:
    """Open a device. ``spec`` has been checked. Raises OSError, ImportError or what a library raises."""
    options: dict[str, Any] = {key: value for key, value in spec.options.items() if key not in FOR_PEOPLE}
    if spec.kind in ("dht11", "dht22"):
        options["kind"] = spec.kind
    elif spec.kind == "input":
        options["factory"] = _inputs(pin_factory, mock_levels)
    driver: Driver = _driver_class(spec.kind)(**options)
    return driver


def _driver_class(kind: str) -> Any:
    module, _, name = CLASSES[kind].partition(":")
    return getattr(import_module(f"dryward_hardware.drivers.{module}"), name)


@cache
def _inputs(pin_factory: str, mock_levels: str) -> Any:
    from dryward_hardware.drivers.contact import input_factory
    from dryward_hardware.keeper.pins import slim_gpiozero

    slim_gpiozero()
    return input_factory(pin_factory, mock_levels)
