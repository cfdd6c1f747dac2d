"""The supply of sensors is cut when one gives nothing for long: briefly, now and then, and only where it is wired."""

from __future__ import annotations

from dataclasses import replace

import pytest

from dryward.core.chamber import Chamber, Output, Sensor
from dryward.core.engine import step
from dryward.core.inputs import Inputs, Reading
from dryward.core.layout import lay_out
from dryward.core.sensor_power import AGAIN_S, CUT_S, SILENT_S, powered
from dryward.core.state import first_state
from dryward.core.trust import SensorState

CHAMBER = Chamber(
    name="shed",
    sensors=(
        Sensor(name="air", role="control-air", device="top"),
        Sensor(name="room", role="ambient", device="dht"),
        Sensor(name="door", role="door", device="reed"),
    ),
    outputs=(Output(name="fan"), Output(name="sensor-power")),
)
WELL = SensorState(20.0, 1000.0, "fresh")
DOOR = SensorState(0.0, 0.0, "stale")


@pytest.mark.parametrize(
    ("silent_s", "on"),
    [
        (SILENT_S - 1.0, True),
        (SILENT_S, False),
        (SILENT_S + CUT_S - 1.0, False),
        (SILENT_S + CUT_S, True),
        (SILENT_S + AGAIN_S - 1.0, True),
        (SILENT_S + AGAIN_S, False),
        (SILENT_S + AGAIN_S + CUT_S, True),
    ],
)
def test_it_is_cut_for_seconds_and_again_after_minutes(silent_s: float, on: bool) -> None:
    room = SensorState(18.0, 1000.0 - silent_s, "stale")
    assert powered(lay_out(CHAMBER), (WELL, room, DOOR), 1000.0) is on


def test_a_sensor_that_has_not_answered_yet_cuts_nothing_until_its_reads_fail() -> None:
    layout, quiet = lay_out(CHAMBER), SensorState()
    failing = replace(quiet, missing="failed")
    moments = [float(now) for now in range(int(AGAIN_S))]
    assert all(powered(layout, (WELL, quiet, DOOR), now) for now in moments)
    assert sum(not powered(layout, (replace(WELL, sampled_s=now), failing, DOOR), now) for now in moments) == CUT_S


def test_the_engine_cuts_it_where_one_is_wired_and_the_others_stay_fresh() -> None:
    """The room's sensor dies at 10 s; while its supply is cut the air's, on the same supply, is silent too."""
    for wired in (True, False):
        outputs = CHAMBER.outputs if wired else CHAMBER.outputs[:1]
        layout = lay_out(replace(CHAMBER, outputs=outputs))
        state, cut = first_state(layout), []
        for now in range(100):
            t = float(now)
            readings = [Reading("room", 18.0, t)] if now <= 10 else [Reading("room", None, t, "no answer")]
            if t not in cut and t - 1.0 not in cut:
                readings.append(Reading("air", 20.0 + now % 3 / 10.0, t))
            state, commands = step(layout, state, Inputs(readings=tuple(readings)), t)
            if wired and "sensor-power" not in commands.on:
                cut.append(t)
            assert wired or "sensor-power" not in commands.on
            assert state.sensors[0].quality == "fresh"
        assert cut == ([35.0, 36.0, 37.0, 38.0] if wired else [])
