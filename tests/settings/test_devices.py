"""Kinds of devices: their options agree with the drivers."""

from __future__ import annotations

from pathlib import Path

from dryward.settings.devices import KINDS, Recorded, Twin
from dryward.settings.mistakes import Findings
from dryward.settings.options import options
from dryward.settings.shape import build
from dryward.settings.sources import device
from dryward_hardware.recorded import RecordedOptions
from dryward_hardware.twin.options import TwinOptions, twin_options


def test_the_options_of_a_recording_are_those_of_its_driver() -> None:
    ours, theirs = options(Recorded), options(RecordedOptions)
    assert list(ours) == list(theirs)
    for key, option in ours.items():
        assert option.choices == theirs[key].choices, key
        if key != "columns":  # left out there as an empty mapping
            assert option.default == theirs[key].default, key


def test_the_options_of_a_twin_are_those_of_the_twin() -> None:
    ours, theirs = options(Twin), options(TwinOptions)
    assert set(ours) == set(theirs) - {"hooks"}, "the hooks follow from the scales"
    assert ours["model"].choices == theirs["model"].choices
    for key, option in ours.items():
        assert (option.table or option.kind is dict) == bool(theirs[key].table), key
        if option.kind in (int, float):
            assert option.low == theirs[key].low
            assert option.high is not None
            assert option.high <= (theirs[key].high or 0.0)


def test_a_twin_with_inner_tables_reaches_the_twin_whole() -> None:
    found = Findings("f")
    table = {"seed": 3, "room": {"air_c": 18.0}, "faults": [{"at_s": 60.0, "kind": "fan-stopped"}]}
    made = build(Twin, table, place="devices.twin", found=found)
    assert made is not None
    built = twin_options("twin", device(name="twin", kind="twin", made=made, config=Path("c.toml")).options)
    assert built.room.air_c == 18.0
    assert built.faults[0].kind == "fan-stopped"


def test_every_kind_has_its_options() -> None:
    assert set(KINDS) == {"twin", "recorded", "dht22", "dht11", "w1", "iio", "hwmon", "hx711", "nau7802", "input"}
