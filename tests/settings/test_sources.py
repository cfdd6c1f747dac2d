"""What is left out follows from role and kind, and what is written stands."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from dryward.core.chamber import Output, Scale
from dryward.settings.devices import Recorded
from dryward.settings.sources import (
    Device,
    device,
    rating,
    reads_by_role,
    reset_value,
    weight_of,
    with_hooks,
    with_rest,
)


def _device(kind: str, **given: Any) -> Device:
    return Device(name="top", kind=kind, options=given)


@pytest.mark.parametrize(
    ("kind", "name", "role", "rated"),
    [
        # DHT22 and DS18B20: reference sheets of the sensors; SHT3x/SHT4x rated to 125 degC; DHT11 0-50 degC: from memory
        ("dht22", None, "control-air", (-40.0, 80.0)),
        ("dht11", None, "control-air", (0.0, 50.0)),
        ("w1", None, "limit-air", (-55.0, 125.0)),
        ("hwmon", "sht4x", "control-air", (-40.0, 125.0)),
        ("iio", "dht11", "control-air", (0.0, 50.0)),
        ("iio", "max31865", "core", (-200.0, 250.0)),
        ("dht22", None, "humidity", (0.0, 100.0)),
        ("input", None, "door", (0.0, 1.0)),
        ("twin", None, "control-air", (-40.0, 125.0)),
    ],
)
def test_a_sensor_left_without_a_rating_has_that_of_its_kind(
    kind: str, name: str | None, role: str, rated: tuple[float, float]
) -> None:
    assert rating(_device(kind, **({"name": name} if name else {})), role) == rated


def test_a_one_wire_thermometer_is_never_believed_at_its_power_on_value() -> None:
    """85.000 degC is what a DS18B20 shows after a loss of power (its datasheet)."""
    assert reset_value(_device("w1"), "control-air") == 85.0
    assert reset_value(_device("hwmon"), "control-air") is None


@pytest.mark.parametrize(
    ("role", "real", "twin"),
    [
        ("control-air", "temperature", "air"),
        ("limit-air", "temperature", "limit"),
        ("core", "temperature", "core"),
        ("humidity", "humidity", "humidity"),
        ("ambient", "temperature", "ambient"),
        ("ambient-humidity", "humidity", "ambient-humidity"),
        ("door", "state", "door"),
        ("fan-feedback", "state", "fan"),
    ],
)
def test_a_role_reads_the_value_of_its_name(role: str, real: str, twin: str) -> None:
    assert reads_by_role(_device("hwmon"), role) == real
    assert reads_by_role(None, role) == real
    assert reads_by_role(_device("twin"), role) == twin


def test_a_scale_reads_the_weight_or_the_twins_cell_of_its_name() -> None:
    piece, rack = Scale(name="hook-1", device="top"), Scale(name="all", device="top", carries="rack")
    assert [weight_of(_device("hx711"), s) for s in (piece, rack)] == ["weight", "weight"]
    assert [weight_of(_device("twin"), s) for s in (piece, rack)] == ["hook-1", "rack"]


def test_a_twin_gets_a_cell_for_every_scale_that_reads_it() -> None:
    scales = (
        Scale(name="a", device="top", reads="a"),
        Scale(name="b", device="other", reads="b"),
        Scale(name="c", device="top", reads="rack", carries="rack"),
    )
    assert with_hooks(_device("twin", seed=1), scales).options == {"seed": 1, "hooks": ("a",)}
    assert with_hooks(_device("hx711"), scales).options == {}


def test_what_is_left_out_stays_out_and_a_file_is_found_beside_the_chamber_file() -> None:
    made = device(name="a", kind="recorded", made=Recorded(file="b.csv"), config=Path("/etc/dryward/chamber.toml"))
    assert made.options["file"] == "/etc/dryward/b.csv"
    assert "time_unit" not in made.options
    assert "columns" not in made.options


def test_a_cooler_rests_as_a_compressor_must_unless_its_owner_knows_better() -> None:
    """300 s between stops and starts: common practice, no source."""
    assert with_rest(Output(name="cooler"), {}).min_off_s == 300.0
    assert with_rest(Output(name="cooler", min_off_s=0.0), {"min_off_s": 0}).min_off_s == 0.0
    assert with_rest(Output(name="fan"), {}).min_off_s == 0.0
