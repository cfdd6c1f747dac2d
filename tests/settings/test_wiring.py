"""What is wired to what: each mistake is told at its place, with its value, the limit and the cure."""

from __future__ import annotations

from collections.abc import Callable
from importlib import import_module
from pathlib import Path

import pytest

from dryward.settings import read_settings
from dryward.settings.wiring import CELL_VALUES, GIVES
from dryward_hardware.drivers.kinds import CLASSES
from tests.settings.conftest import CHAMBER, Told

TWIN = CHAMBER.replace('kind = "hwmon"\nname = "sht4x"', 'kind = "twin"')
INPUT = '[devices.reed]\nkind = "input"\ngpio = 17\n[sensors.door]\nrole = "door"\ndevice = "reed"\n'


@pytest.mark.parametrize(
    ("text", "key", "value", "limit", "cure"),
    [
        pytest.param(
            CHAMBER.replace("gpio = 27", "gpio = 17"),
            "outputs.fan.gpio",
            "17",
            "a line of its own; outputs.heater.gpio is 17 too",
            "own number",
            id="two outputs on one pin",
        ),
        pytest.param(
            CHAMBER + INPUT,
            "outputs.heater.gpio",
            "17",
            "a line of its own; devices.reed.gpio is 17 too",
            "own number",
            id="an input and an output on one pin",
        ),
        pytest.param(
            CHAMBER.replace('role = "humidity"\ndevice = "top"', 'role = "humidity"\ndevice = "high"'),
            "sensors.rh.device",
            '"high"',
            "a device that gives 'humidity'; 'high' is of kind w1 and gives temperature",
            "the device that measures it",
            id="a humidity from a thermometer",
        ),
        pytest.param(
            CHAMBER.replace('device = "cell"', 'device = "high"'),
            "scales.hook.device",
            '"high"',
            "a device that gives 'weight'; 'high' is of kind w1 and gives temperature",
            "the device that measures it",
            id="a weight from a thermometer",
        ),
        pytest.param(
            CHAMBER.replace('device = "high"', 'device = "high"\nreads = "temprature"'),
            "sensors.limit.device",
            '"high"',
            "a device that gives 'temprature'; 'high' is of kind w1 and gives temperature",
            "the device that measures it",
            id="a misspelt value",
        ),
        pytest.param(
            CHAMBER.replace('device = "cell"', 'device = "cell"\ncarries = "rack"')
            + '[devices.cell-2]\nkind = "hx711"\nname = "second"\n[scales.tray]\ndevice = "cell-2"\ncarries = "rack"\n',
            "scales.tray.carries",
            '"rack"',
            "one scale that weighs the whole rack; scales.hook is it already",
            'carries = "piece"',
            id="two scales for the whole rack",
        ),
        pytest.param(
            CHAMBER.replace('role = "limit-air"\ndevice = "high"', 'role = "limit-air"\ndevice = "hihg"'),
            "sensors.limit.device",
            '"hihg"',
            "the name of a [devices.NAME] table",
            "Did you mean 'high'?",
            id="a sensor of an unknown device",
        ),
        pytest.param(
            CHAMBER.replace('device = "cell"', 'device = "sell"'),
            "scales.hook.device",
            '"sell"',
            "the name of a [devices.NAME] table",
            "Did you mean 'cell'?",
            id="a scale of an unknown device",
        ),
        pytest.param(
            CHAMBER.replace('role = "limit-air"\ndevice = "high"', 'role = "limit-air"\ndevice = "top"'),
            "sensors.limit.reads",
            '"temperature"',
            "each value of a device serves one sensor; sensors.air reads it already",
            "another",
            id="two sensors of one value",
        ),
        pytest.param(
            CHAMBER.replace("[scales.hook]", "[scales.air]"),
            "scales.air",
            '"air"',
            "a name that no sensor has",
            "Rename",
            id="a scale named as a sensor",
        ),
        pytest.param(
            TWIN,
            "outputs.heater.gpio",
            "17",
            "no real line while the control air comes from a device of kind 'twin'",
            "pin_factory",
            id="a real heater on simulated air",
        ),
        pytest.param(
            CHAMBER + '[devices.low]\nkind = "w1"\nid = "28-0123456789ab"\n',
            "devices.low",
            "",
            "another device than devices.high, which has the same kind and options",
            "what tells the two apart",
            id="one thermometer under two names",
        ),
        pytest.param(
            CHAMBER + '[devices.one]\nkind = "dht22"\ngpio = 5\n[devices.two]\nkind = "dht22"\ngpio = 5\n',
            "devices.two.gpio",
            "5",
            "a line of its own; devices.one.gpio is 5 too",
            "own number",
            id="two inputs on one pin",
        ),
    ],
)
def test_each_mistake_of_the_wiring_is_told(
    mistakes: Callable[..., Told], text: str, key: str, value: str, limit: str, cure: str
) -> None:
    told = mistakes(read_settings, text)
    assert list(told) == [key]
    assert told[key].value == value
    assert told[key].limit == limit
    assert cure in told[key].cure


def test_a_simulated_air_may_switch_pretended_lines(file: Callable[[str], Path]) -> None:
    assert read_settings(file(TWIN + '[service]\npin_factory = "mock"\n')).chamber.outputs[0].gpio == 17


def test_two_values_of_one_device_serve_two_sensors(file: Callable[[str], Path]) -> None:
    assert len(read_settings(file(CHAMBER)).chamber.sensors) == 3


def test_the_values_of_each_kind_are_those_of_its_driver() -> None:
    for kind, place in CLASSES.items():
        module, _, name = place.partition(":")
        driver = getattr(import_module(f"dryward_hardware.drivers.{module}"), name)
        reads = driver.reads if isinstance(driver.reads, tuple) else CELL_VALUES  # a cell's depend on its calibration
        assert GIVES[kind] == reads, kind
