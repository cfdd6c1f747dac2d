"""Scripted faults do what they say, when they say, and end."""

from __future__ import annotations

import math

import pytest

from dryward_hardware.ports import DeviceError, Hung, Sample
from dryward_hardware.twin import Fault, Twin, TwinOptions
from dryward_hardware.twin.faults import Script
from dryward_hardware.twin.options import Dryer, Room, Sensing

QUIET = Sensing(temperature_noise_k=0.0, temperature_step_k=0.0, humidity_noise_pct=0.0, humidity_step_pct=0.0)
HOT = frozenset({"heater", "fan"})


def twin_with(*faults: Fault, start_c: float | None = None, **dryer: object) -> Twin:
    return Twin("sim", TwinOptions(faults=faults, sensing=QUIET, start_c=start_c, dryer=Dryer(**dryer)))  # type: ignore[arg-type]


def rise_k(twin: Twin, outputs: frozenset[str], *, from_s: float, until_s: float) -> float:
    twin.want(outputs, from_s)
    twin.poll(from_s)
    before = twin.truth().air_c
    twin.poll(until_s)
    return twin.truth().air_c - before


def shown(twin: Twin, channel: str, now_s: float) -> Sample | None:
    return next((s for s in twin.poll(now_s).samples if s.channel == f"sim/{channel}"), None)


def value(twin: Twin, channel: str, now_s: float) -> float:
    sample = shown(twin, channel, now_s)
    assert sample is not None
    assert sample.value is not None
    return sample.value


def test_faults_hold_from_their_beginning_up_to_their_end() -> None:
    script = Script([Fault(at_s=10.0, until_s=20.0, kind="heater-weak", value=0.6)])
    for at_s, share in ((9.9, 1.0), (10.0, 0.6), (19.9, 0.6), (20.0, 1.0)):
        script.at(at_s)
        assert script.share("heater-weak") == share
    assert script.turns == [10.0, 20.0]


def test_a_dead_heater_gives_no_heat_until_it_is_mended() -> None:
    twin = twin_with(Fault(at_s=0.0, until_s=300.0, kind="heater-dead"))
    assert rise_k(twin, HOT, from_s=0.0, until_s=300.0) < 2.0  # the fan alone
    assert rise_k(twin, HOT, from_s=300.0, until_s=600.0) > 10.0


def test_a_welded_contact_heats_with_the_output_off_and_only_the_contactor_stops_it() -> None:
    welded = Fault(at_s=60.0, kind="heater-welded")
    twin = twin_with(welded)
    assert rise_k(twin, frozenset({"fan"}), from_s=0.0, until_s=60.0) < 1.0
    assert rise_k(twin, frozenset({"fan"}), from_s=60.0, until_s=400.0) > 10.0
    fitted = twin_with(welded, contactor=True)
    assert rise_k(fitted, frozenset({"fan", "contactor"}), from_s=0.0, until_s=400.0) > 10.0
    assert rise_k(fitted, frozenset({"fan"}), from_s=400.0, until_s=900.0) < 0.0


def test_a_weakened_heater_gives_its_share() -> None:
    rises = [
        rise_k(twin_with(*faults), HOT, from_s=0.0, until_s=900.0)
        for faults in ((), (Fault(at_s=0.0, kind="heater-weak", value=0.5),))
    ]
    assert rises[1] == pytest.approx(0.5 * rises[0], rel=0.05)


def test_heat_goes_with_the_square_of_the_mains_voltage() -> None:
    energies = []
    for faults in ((), (Fault(at_s=0.0, kind="mains", value=0.8),)):
        twin = twin_with(*faults)
        twin.want(HOT, 0.0)
        twin.poll(600.0)
        energies.append(twin.truth().ledger.heater_j)
    assert energies[1] == pytest.approx(0.64 * energies[0])


def test_mains_that_wander_do_it_within_their_swing() -> None:
    twin = Twin("sim", TwinOptions(room=Room(mains_swing=0.2)))
    twin.want(HOT, 0.0)
    powers, before = [], 0.0
    for now_s in range(30, 10_000, 30):
        twin.poll(float(now_s))
        joules = twin.truth().ledger.heater_j
        powers.append((joules - before) / 30.0 / 900.0)
        before = joules
    assert 0.64 <= min(powers) < 0.75
    assert 1.25 < max(powers) <= 1.44


def test_a_stopped_fan_shows_on_its_contact_and_a_slowed_one_moves_less_heat() -> None:
    twin = twin_with(Fault(at_s=100.0, until_s=200.0, kind="fan-stopped"))
    twin.want(HOT, 0.0)
    assert value(twin, "fan", 50.0) == 1.0
    assert value(twin, "fan", 150.0) == 0.0
    assert value(twin, "fan", 250.0) == 1.0
    assert value(twin, "fan", 300.0) == 1.0
    slowed = twin_with(Fault(at_s=0.0, kind="fan-slow", value=0.5))
    element_shows = []
    for each in (slowed, twin_with()):
        each.want(HOT, 0.0)
        element_shows.append(value(each, "limit", 300.0) - value(each, "air", 310.0))
    assert element_shows[0] > element_shows[1] + 0.5  # the element stays hotter


def test_an_open_door_shows_on_its_contact_and_cools() -> None:
    twin = twin_with(Fault(at_s=10.0, until_s=70.0, kind="door-open"), start_c=70.0)
    assert value(twin, "door", 5.0) == 0.0
    assert rise_k(twin, HOT - {"heater"}, from_s=10.0, until_s=60.0) < -10.0
    assert value(twin, "door", 65.0) == 1.0
    assert value(twin, "door", 75.0) == 0.0


@pytest.mark.parametrize(
    ("kind", "outputs", "dries"),
    [("vent-stuck-open", frozenset({"fan"}), True), ("vent-stuck-shut", frozenset({"fan", "vent"}), False)],
)
def test_a_stuck_vent_does_as_it_likes(kind: str, outputs: frozenset[str], dries: bool) -> None:
    humidities = []
    for faults in ((Fault(at_s=0.0, kind=kind),), ()):  # type: ignore[arg-type]
        twin = twin_with(*faults, start_c=40.0)
        twin.hang([Hung(name="p", green_g=3000.0)])
        twin.want(outputs, 0.0)
        twin.poll(1800.0)
        humidities.append(twin.truth().rh_pct)
    assert (humidities[0] < humidities[1]) is dries


def test_each_lying_sensor_lies_in_its_own_way() -> None:
    heated = {"start_c": 60.0}
    frozen = twin_with(Fault(at_s=10.0, kind="sensor-frozen"), **heated)  # type: ignore[arg-type]
    last = value(frozen, "air", 8.0)
    assert value(frozen, "air", 900.0) == last
    assert value(frozen, "limit", 910.0) < last - 5.0
    silent = twin_with(Fault(at_s=0.0, kind="sensor-silent", channel="humidity"))
    assert shown(silent, "humidity", 5.0) is None
    failed = twin_with(Fault(at_s=0.0, kind="sensor-failed"))
    assert shown(failed, "air", 5.0) == Sample("sim/air", None, 5.0, "no answer")
    assert math.isnan(value(twin_with(Fault(at_s=0.0, kind="sensor-nan")), "air", 5.0))
    assert value(twin_with(Fault(at_s=0.0, kind="sensor-value", value=85.0)), "air", 5.0) == 85.0
    honest = value(twin_with(**heated), "air", 5.0)  # type: ignore[arg-type]
    assert value(twin_with(Fault(at_s=0.0, kind="sensor-offset", value=-7.5), **heated), "air", 5.0) == pytest.approx(
        honest - 7.5
    )  # type: ignore[arg-type]
    assert value(twin_with(Fault(at_s=0.0, kind="sensor-reversed"), **heated), "air", 5.0) == pytest.approx(
        2 * 22.0 - honest
    )  # type: ignore[arg-type]
    assert value(twin_with(Fault(at_s=0.0, kind="sensor-fallen-out"), **heated), "air", 5.0) == 22.0  # type: ignore[arg-type]
    swapped = twin_with(
        Fault(at_s=0.0, kind="sensor-swapped", other="ambient"),
        Fault(at_s=0.0, kind="sensor-swapped", channel="ambient", other="air"),
        **heated,
    )  # type: ignore[arg-type]
    assert value(swapped, "air", 5.0) == 22.0
    assert value(swapped, "ambient", 40.0) > 40.0


def test_a_core_probe_that_fell_out_reads_the_air_and_a_humidity_sensor_the_room() -> None:
    faults = (
        Fault(at_s=0.0, kind="sensor-fallen-out", channel="core"),
        Fault(at_s=0.0, kind="sensor-fallen-out", channel="humidity"),
    )
    twin = twin_with(*faults, start_c=60.0)
    twin.hang([Hung(name="p", green_g=700.0)])
    twin.want(HOT, 0.0)
    assert value(twin, "core", 600.0) > 50.0
    assert value(twin, "humidity", 610.0) == pytest.approx(50.0)


def test_a_swapped_sensor_must_have_a_partner() -> None:
    with pytest.raises(DeviceError, match="no channel 'lmit'"):
        twin_with(Fault(at_s=0.0, kind="sensor-swapped", other="lmit"))
