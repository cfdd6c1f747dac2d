"""Options of the twin: defaults that work, mistakes that are all named."""

from __future__ import annotations

import pytest

from dryward_hardware.ports import DeviceError
from dryward_hardware.twin.faults import Fault
from dryward_hardware.twin.options import TwinOptions, twin_options


def test_nothing_given_is_a_dryer_with_every_default() -> None:
    assert twin_options("sim", {}) == TwinOptions()
    assert TwinOptions().model == "dryer"


def test_tables_and_faults_are_read_as_they_come_from_toml() -> None:
    made = twin_options(
        "sim",
        {
            "seed": 7,
            "hooks": ["hook-1", "hook-2"],
            "room": {"air_c": 18, "day_swing_k": 3.0},
            "dryer": {"heater_w": 800.0},
            "faults": [
                {"at_s": 60, "until_s": 120, "kind": "heater-dead"},
                {"at_s": 5, "kind": "sensor-offset", "value": 2.5, "channel": "limit"},
            ],
        },
    )
    assert made.room.air_c == 18.0
    assert made.dryer.heater_w == 800.0
    assert made.faults == (
        Fault(at_s=60.0, until_s=120.0, kind="heater-dead"),
        Fault(at_s=5.0, kind="sensor-offset", value=2.5, channel="limit"),
    )


def test_all_mistakes_are_named_with_their_place() -> None:
    with pytest.raises(DeviceError) as caught:
        twin_options(
            "sim",
            {
                "modle": "dryer",
                "room": {"air_c": 99.0},
                "dryer": {"heater_w": 0.0, "fan": "sometimes"},
                "faults": [{"at_s": 9.0, "until_s": 3.0, "kind": "fan-stopped"}],
            },
        )
    for part in (
        "modle is no option; did you mean model?",
        "room.air_c is 99.0, the most is 45.0",
        "dryer.heater_w is 0.0",
        "dryer.fan is 'sometimes'",
        "faults[0]: until_s 3 is not after at_s 9",
    ):
        assert part in str(caught.value)


def test_an_unknown_fault_lists_the_known_ones() -> None:
    with pytest.raises(DeviceError, match=r"faults\[0\].kind is 'gremlin'; use one of heater-dead, heater-welded"):
        twin_options("sim", {"faults": [{"at_s": 0.0, "kind": "gremlin"}]})


@pytest.mark.parametrize(
    ("given", "part"),
    [
        ({"faults": [{"at_s": 0.0, "kind": "heater-weak"}]}, "faults[0]: heater-weak needs a value"),
        ({"faults": [{"at_s": 0.0, "kind": "fan-slow", "value": 60.0}]}, "value 60 of fan-slow is no share"),
        (
            {"body": {"rise_k": 80.0, "time_constant_s": 600.0, "dead_s": 10.0, "lag_s": 5.0}},
            "body has no meaning for the dryer",
        ),
        ({"body": {"rise_k": 80.0}, "model": "slow-box"}, "body.time_constant_s is missing"),
    ],
)
def test_values_that_cannot_be_meant_are_refused(given: dict[str, object], part: str) -> None:
    with pytest.raises(DeviceError) as caught:
        twin_options("sim", given)
    assert part in str(caught.value)
