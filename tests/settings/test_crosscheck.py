"""Mistakes between options: each is told at its place, with its value, the limit and the cure."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from dryward.settings import read_settings
from tests.settings.conftest import CHAMBER, Told

TWIN = CHAMBER.replace('kind = "hwmon"\nname = "sht4x"', 'kind = "twin"')
INPUT = '[devices.reed]\nkind = "input"\ngpio = 17\n[sensors.door]\nrole = "door"\ndevice = "reed"\n'
SECOND_AIR = '[devices.low]\nkind = "w1"\nid = "28-00000000000f"\n[sensors.low]\nrole = "control-air"\ndevice = "low"\n'


@pytest.mark.parametrize(
    ("text", "key", "value", "limit", "cure"),
    [
        pytest.param(
            CHAMBER.replace("gpio = 17", "gpio = 4"),
            "outputs.heater.gpio",
            "4",
            "a whole number from 9 to 27",
            "9-27",
            id="an output on a pin that is pulled up",
        ),
        pytest.param(
            CHAMBER.replace("gpio = 17", "gpio = 40"),
            "outputs.heater.gpio",
            "40",
            "a whole number from 9 to 27",
            "9-27",
            id="an output on no pin at all",
        ),
        pytest.param(
            CHAMBER.replace('role = "control-air"', 'role = "ambient"'),
            "sensors",
            "(missing)",
            'with a heater, one sensor with role = "control-air" is needed',
            "this role",
            id="a heater without control air",
        ),
        pytest.param(
            CHAMBER.replace('role = "control-air"', 'role = "ambient"').replace("[outputs.heater]", "[outputs.cooler]"),
            "sensors",
            "(missing)",
            'with a cooler, one sensor with role = "control-air" is needed',
            "this role",
            id="a cooler without control air",
        ),
        *(
            pytest.param(
                CHAMBER
                + f'[control.plant]\ngain_k = 128\ntime_constant_s = 900\ndead_time_s = 20\ntuned_on = "{day}"\n',
                "control.plant.tuned_on",
                f'"{day}"',
                "a day as YYYY-MM-DD",
                "tune show",
                id=f"tuned on {day}",
            )
            for day in ("25.11.2026", "yesterday", "20261125", "2026-13-01")
        ),
        pytest.param(
            CHAMBER + SECOND_AIR,
            "sensors.low.role",
            '"control-air"',
            "one control-air sensor; sensors.air is it already",
            "limit-air",
            id="two control airs",
        ),
        pytest.param(
            CHAMBER.replace("gpio = 17", "gpio = 17\nsafe_on = true"),
            "outputs.heater.safe_on",
            "true",
            "true only for buzzer, fan, lamp",
            "off",
            id="a heater safe when on",
        ),
        pytest.param(
            CHAMBER + "[outputs.vent]\nsafe_on = true\n",
            "outputs.vent.safe_on",
            "true",
            "true only for buzzer, fan, lamp",
            "the vent must be off",
            id="a vent safe when on",
        ),
        pytest.param(
            CHAMBER.replace('device = "top"\n[sensors.limit]', 'device = "top"\nfresh_s = 12\n[sensors.limit]'),
            "sensors.air.fresh_s",
            "12",
            "at most 10 s for a sensor that heat depends on",
            "10 or less",
            id="a slow control air with a heater",
        ),
        pytest.param(
            CHAMBER.replace('device = "high"\n', 'device = "high"\nfresh_s = 60\n'),
            "sensors.limit.fresh_s",
            "60",
            "at most 10 s for a sensor that heat depends on",
            "10 or less",
            id="a slow limit air with a heater",
        ),
        pytest.param(
            CHAMBER.replace('device = "high"\n', 'device = "high"\nrated_high = -60\n'),
            "sensors.limit.rated_high",
            "-60",
            "above rated_low = -55",
            "datasheet",
            id="a rating upside down",
        ),
        pytest.param(
            CHAMBER.replace('role = "humidity"\n', 'role = "humidity"\nrated_high = 125\n'),
            "sensors.rh.rated_high",
            "125",
            "rated_low and rated_high of a humidity lie within 0 and 100 %RH",
            "datasheet",
            id="a humidity rated as a temperature",
        ),
        pytest.param(
            CHAMBER + INPUT.replace("17", "5").replace('"door"', '"contactor-feedback"'),
            "sensors.door.role",
            '"contactor-feedback"',
            "needs [outputs.contactor], whose answer it is",
            "Add [outputs.contactor]",
            id="the answer of a contactor that is not there",
        ),
        pytest.param(
            CHAMBER + "[control]\nstir_every_s = 300\n",
            "control.stir_s",
            "300",
            "below stir_every_s = 300",
            "It would never stop",
            id="stirring without an end",
        ),
        pytest.param(
            CHAMBER + "[control]\ndefrost_every_s = 21600\n",
            "control.defrost_every_s",
            "21600",
            "needs [outputs.cooler]",
            "Add [outputs.cooler]",
            id="defrosting a cooler that is not there",
        ),
        pytest.param(
            CHAMBER + "[control]\nairing_every_s = 21600\n",
            "control.airing_every_s",
            "21600",
            "needs [outputs.vent]",
            "Add [outputs.vent]",
            id="airing through a vent that is not there",
        ),
        pytest.param(
            CHAMBER + "[control]\ncycle_s = 4\n",
            "control.cycle_s",
            "4",
            "at least 20 s for a heater whose relay wears (rated_operations above 0)",
            "rated_operations = 0",
            id="a mechanical relay cycled too fast",
        ),
        pytest.param(
            CHAMBER.replace("gpio = 17", "gpio = 17\nmin_on_s = 30\nmin_off_s = 20"),
            "control.cycle_s",
            "40",
            "at least 50 s, the heater's min_on_s and min_off_s together",
            "Lengthen the cycle",
            id="a cycle too short for the heater's times",
        ),
        pytest.param(
            CHAMBER + "[limits]\nover_setpoint_s = 180\n",
            "limits.over_setpoint_trip_s",
            "180",
            "above over_setpoint_s = 180",
            "a minute",
            id="trip not after heat off",
        ),
        pytest.param(
            CHAMBER + "[limits]\ntrip_stale_s = 8\n",
            "limits.trip_stale_s",
            "8",
            "above heat_stale_s = 10",
            "60 s",
            id="stale trip not after heat off",
        ),
        pytest.param(
            CHAMBER + "[limits]\noutage_ramp_s = 60\n",
            "limits.outage_ramp_s",
            "60",
            "above outage_go_on_s = 300",
            "3600 s",
            id="outage times out of order",
        ),
        pytest.param(
            CHAMBER + "[limits]\nover_setpoint_k = 9\n",
            "limits.over_top_step_k",
            "8",
            "above over_setpoint_k = 9",
            "hottest step",
            id="heat off above the trip",
        ),
        pytest.param(
            CHAMBER + "[limits]\nheat_stale_s = 11\n",
            "limits.heat_stale_s",
            "11",
            "a number above 0, at most 10",
            "Never above 10 s",
            id="heat on a reading older than ten seconds",
        ),
    ],
)
def test_each_mistake_between_options_is_told(
    mistakes: Callable[..., Told], text: str, key: str, value: str, limit: str, cure: str
) -> None:
    told = mistakes(read_settings, text)
    assert list(told) == [key]
    assert told[key].value == value
    assert told[key].limit == limit
    assert cure in told[key].cure


def test_a_slow_sensor_is_right_where_no_heater_depends_on_it(file: Callable[[str], Path]) -> None:
    text = CHAMBER.replace('device = "high"\n', 'device = "high"\nfresh_s = 60\n').replace(
        "[outputs.heater]", "[outputs.cooler]"
    )
    assert read_settings(file(text)).chamber.sensors[1].fresh_s == 60.0


def test_a_mistake_is_not_echoed_by_the_checks_that_build_on_it(mistakes: Callable[..., Told]) -> None:
    """A mistyped role hides the control air; that it is missing is not told on top."""
    told = mistakes(
        read_settings,
        CHAMBER.replace('"control-air"', '"contol-air"')
        + "[limits]\nover_setpoint_s = '200'\nover_setpoint_trip_s = 20\n",
    )
    assert list(told) == ["sensors.air.role", "limits.over_setpoint_s"]
