"""The look-ups of a chamber are made once and right."""

from __future__ import annotations

from dryward.core.chamber import Scale, Sensor
from dryward.core.layout import lay_out
from tests.core.bench_chamber import AIR, DOOR, HUMIDITY, LIMIT, chamber


def test_every_role_is_found_by_its_place() -> None:
    core = Sensor(name="probe", role="core", device="spike", reads="temperature")
    made = chamber(sensors=(HUMIDITY, LIMIT, AIR, core, DOOR), scales=(Scale(name="hook", device="amp"),))
    layout = lay_out(made)
    assert layout.air == 2
    assert layout.airs == (2, 1)  # control first
    assert layout.humidity == 0
    assert layout.cores == (3,)
    assert layout.door == 4
    assert layout.ambient is None
    assert layout.sensor_index["limit"] == 1
    assert layout.scales["hook"].device == "amp"
    assert layout.has == {"heater", "fan", "contactor"}


def test_temperature_and_humidity_of_one_device_are_partners() -> None:
    """An all-zero frame of such a device is known by both being 0.0 at once."""
    layout = lay_out(chamber(sensors=(AIR, LIMIT, HUMIDITY)))
    assert layout.partner == (2, None, None)
    assert layout.is_temperature == (True, True, False)
