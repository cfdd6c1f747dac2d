"""A chamber file becomes Settings, or all its mistakes at once."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from dryward.core.chamber import Chamber, Control, Limits, Plant
from dryward.settings import Device, RecordSettings, ServiceSettings, read_settings
from tests.settings.conftest import CHAMBER, Told

Mistakes = Callable[..., Told]


def test_a_chamber_is_read_with_its_parts_devices_and_tables(file: Callable[[str], Path]) -> None:
    path = file(
        CHAMBER
        + "[limits]\nmax_air_c = 85\n[control.plant]\ngain_k = 128\ntime_constant_s = 900\ndead_time_s = 20\n[record]\nkeep_days = 30\n"
    )
    settings = read_settings(path)
    assert settings.path == path
    assert settings.chamber.name == "shed"
    assert [s.name for s in settings.chamber.sensors] == ["air", "limit", "rh"]
    assert [o.name for o in settings.chamber.outputs] == ["heater", "fan"]
    assert settings.chamber.outputs[0].power_w == 1200.0
    assert settings.chamber.limits == Limits(max_air_c=85.0)
    assert settings.chamber.control == Control(plant=Plant(gain_k=128.0, time_constant_s=900.0, dead_time_s=20.0))
    assert settings.devices[0] == Device(name="top", kind="hwmon", options=settings.devices[0].options)
    assert settings.devices[0].options["name"] == "sht4x"
    assert settings.record == RecordSettings(keep_days=30.0)
    assert settings.service == ServiceSettings()


def test_what_is_left_out_follows_from_role_and_device(file: Callable[[str], Path]) -> None:
    air, limit, humidity = read_settings(file(CHAMBER)).chamber.sensors
    assert (air.reads, air.rated_low, air.rated_high, air.reset_value) == ("temperature", -40.0, 125.0, None)
    assert (limit.reads, limit.rated_low, limit.rated_high, limit.reset_value) == ("temperature", -55.0, 125.0, 85.0)
    assert (humidity.reads, humidity.rated_low, humidity.rated_high) == ("humidity", 0.0, 100.0)
    assert read_settings(file(CHAMBER)).chamber.scales[0].reads == "weight"


def test_what_the_owner_says_stands(file: Callable[[str], Path]) -> None:
    text = CHAMBER.replace(
        'role = "limit-air"', 'role = "limit-air"\nrated_low = -10\nrated_high = 100\nreset_value = 80\nreads = "hot"'
    ).replace('kind = "w1"\nid = "28-0123456789ab"', 'kind = "recorded"\nfile = "hot.csv"')
    limit = read_settings(file(text)).chamber.sensors[1]
    assert (limit.reads, limit.rated_low, limit.rated_high, limit.reset_value) == ("hot", -10.0, 100.0, 80.0)


def test_paths_count_from_the_folder_of_the_file_or_from_home(
    file: Callable[[str], Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("HOME", "/home/somebody")
    path = file(CHAMBER + '[record]\npath = "shed.db"\n[service]\nsocket = "~/shed.sock"\n')
    settings = read_settings(path)
    assert settings.record.path == str(path.parent / "shed.db")
    assert settings.service.socket == "/home/somebody/shed.sock"
    assert read_settings(file(CHAMBER)).record.path == "/var/lib/dryward/record.db"


def test_a_date_may_be_written_without_quotes(file: Callable[[str], Path]) -> None:
    text = CHAMBER + "[control.plant]\ngain_k = 128\ntime_constant_s = 900\ndead_time_s = 20\ntuned_on = 2031-05-04\n"
    plant = read_settings(file(text)).chamber.control.plant
    assert plant is not None
    assert plant.tuned_on == "2031-05-04"


def test_the_smallest_file_is_a_name(file: Callable[[str], Path]) -> None:
    assert read_settings(file('[chamber]\nname = "a"\n')).chamber == Chamber(name="a", sensors=())


def test_a_file_without_the_chamber_table_says_so(mistakes: Mistakes) -> None:
    told = mistakes(read_settings, "")
    assert told["chamber"].value == "(missing)"
    assert "[chamber]" in told["chamber"].cure


def test_an_unknown_table_is_told_with_the_near_name(mistakes: Mistakes) -> None:
    told = mistakes(read_settings, CHAMBER + "[recrd]\n")["recrd"]
    assert (told.limit, told.cure) == ("no such table", "Did you mean 'record'?")


def test_a_table_inside_the_chamber_table_is_told(mistakes: Mistakes) -> None:
    told = mistakes(read_settings, CHAMBER.replace("[devices.top]", "[chamber.limits]\nmax_air_c = 70\n[devices.top]"))[
        "chamber.limits"
    ]
    assert told.cure == "Write it as a table of its own, [limits], not inside [chamber]."


@pytest.mark.parametrize(
    ("line", "value", "cure"),
    [
        ("", "(missing)", 'Add a line kind = "...". Known here: twin, recorded'),
        ('kind = "dht2"', '"dht2"', "Did you mean 'dht22'?"),
        ('kind = "sht31"', '"sht31"', 'Such a chip is read with kind = "hwmon".'),
        ('kind = "DS18B20"', '"DS18B20"', 'Such a chip is read with kind = "w1".'),
        ("kind = 22", "22", "Known here: twin"),
        ("kind = [1]", "[1]", "Known here: twin"),
    ],
)
def test_a_device_needs_a_known_kind(mistakes: Mistakes, line: str, value: str, cure: str) -> None:
    told = mistakes(read_settings, CHAMBER.replace('kind = "hwmon"', line))["devices.top.kind"]
    assert told.value == value
    assert told.limit.startswith("one of: twin, recorded, dht22")
    assert told.cure.startswith(cure)


def test_options_of_another_kind_are_told(mistakes: Mistakes) -> None:
    told = mistakes(read_settings, CHAMBER.replace('name = "sht4x"', 'name = "sht4x"\ngpio = 4'))
    assert told["devices.top.gpio"].limit == "no such option"


def test_a_device_that_is_no_table_or_has_no_name_is_told(mistakes: Mistakes) -> None:
    told = mistakes(read_settings, CHAMBER + '[devices."Top Two"]\nkind = "twin"\n')
    assert told["devices.Top Two"].cure == 'Write it as "top-two".'
    assert mistakes(read_settings, '[chamber]\nname = "a"\n[devices]\ntop = 5\n')["devices.top"].limit == "a table"


def test_every_mistake_of_a_file_is_told_at_once_in_its_order(mistakes: Mistakes) -> None:
    text = """
[chamber]
name = "Twin Dryer"
[devices.box]
kind = "twin"
sed = 4
[sensors.top]
role = "control-air"
device = "bax"
fresh_s = 20
[outputs.heater]
gpio = 17
safe_on = true
power_w = "1200 W"
[outputs.fan]
gpio = 17
[outputs.heatr]
[limits]
max_air_c = 176
over_setpoint_s = 200
[recrd]
"""
    assert list(mistakes(read_settings, text)) == [
        "chamber.name",
        "devices.box.sed",
        "sensors.top.device",
        "sensors.top.fresh_s",
        "outputs.heater.safe_on",
        "outputs.heater.power_w",
        "outputs.fan.gpio",
        "outputs.heatr",
        "limits.max_air_c",
        "limits.over_setpoint_trip_s",
        "recrd",
    ]
