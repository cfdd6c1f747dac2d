"""From a swing to the plant: the closed forms, then the fit, on plants that are known."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dryward.core.chamber import Plant
from dryward.core.tuning import RelayTest, advance
from dryward.core.tuning_fit import Swing, TuningError, identify, plant_of, swing_of
from dryward_hardware.twin import Twin
from tests.bench.plants import REFERENCE, ROOM_C, Box, Figures, Thermometer
from tests.core.test_tuning import start, swing


def record_of(figures: Figures, *, seed: int | None) -> RelayTest:
    """Run the relay test on a plant, with the usual noise or with none."""
    sensor = Thermometer(seed=seed) if seed is not None else Thermometer(seed=0, noise_k=0.0, step_k=0.0)
    return swing(start(), Box(figures), sensor)


def test_the_limit_cycle_of_the_closed_forms() -> None:
    """Room 20 degC, 80 K, 600 s, 45 s, setpoint 65 degC, half band 0.5 K: the project's own worked case (exact by hand)."""
    found = swing_of(
        Plant(gain_k=80.0, time_constant_s=600.0, dead_time_s=45.0), room_c=20.0, setpoint_c=65.0, half_band_k=0.5
    )
    assert found.high_c == pytest.approx(67.9928, abs=5e-5)
    assert found.low_c == pytest.approx(61.2846, abs=5e-5)
    assert found.on_s == pytest.approx(114.167, abs=5e-4)
    assert found.off_s == pytest.approx(90.338, abs=5e-4)


@given(
    gain_k=st.floats(65.0, 400.0), tau_s=st.floats(120.0, 5000.0), part=st.floats(0.01, 0.3), half_k=st.floats(0.2, 2.0)
)
def test_the_closed_forms_inverted_give_the_plant_back(gain_k: float, tau_s: float, part: float, half_k: float) -> None:
    plant = Plant(gain_k=gain_k, time_constant_s=tau_s, dead_time_s=tau_s * part)
    back = plant_of(
        swing_of(plant, room_c=20.0, setpoint_c=80.0, half_band_k=half_k), room_c=20.0, turn_off_c=80.0 + half_k
    )
    assert back.gain_k == pytest.approx(gain_k, rel=1e-6)
    assert back.time_constant_s == pytest.approx(tau_s, rel=1e-6)
    assert back.dead_time_s == pytest.approx(plant.dead_time_s, rel=1e-6)


def test_a_swing_that_is_none_is_refused_in_words() -> None:
    with pytest.raises(TuningError, match="check the room reading"):
        plant_of(Swing(high_c=81.0, low_c=79.0, on_s=60.0, off_s=60.0), room_c=79.5, turn_off_c=80.5)


@pytest.mark.parametrize("figures", REFERENCE, ids=lambda f: f.name)
def test_without_noise_the_plant_is_found_within_one_per_cent(figures: Figures) -> None:
    """Gain, time constant, dead time and the sensor's lag, though the closed forms alone take the lag for dead time."""
    found = identify(record_of(figures, seed=None)).plant
    assert found.gain_k == pytest.approx(figures.gain_k, rel=0.01)
    assert found.time_constant_s == pytest.approx(figures.time_constant_s, rel=0.01)
    assert found.dead_time_s == pytest.approx(figures.dead_time_s, rel=0.01)
    assert found.lag_s == pytest.approx(figures.lag_s, rel=0.01)


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("figures", REFERENCE, ids=lambda f: f.name)
def test_with_a_tenth_of_noise_and_resolution_within_ten_per_cent(figures: Figures, seed: int) -> None:
    found = identify(record_of(figures, seed=seed))
    assert found.plant.gain_k == pytest.approx(figures.gain_k, rel=0.10)
    assert found.plant.time_constant_s == pytest.approx(figures.time_constant_s, rel=0.10)
    assert found.plant.dead_time_s == pytest.approx(figures.dead_time_s, rel=0.10)
    assert found.misfit_k < 1.2 * found.noise_k
    assert found.noise_k == pytest.approx(0.1, abs=0.03)


def test_a_room_taken_for_two_kelvin_warmer_costs_a_few_per_cent() -> None:
    figures = REFERENCE[0]
    found = identify(replace(record_of(figures, seed=1), room_c=ROOM_C + 2.0)).plant
    assert found.gain_k == pytest.approx(figures.gain_k, rel=0.05)
    assert found.time_constant_s == pytest.approx(figures.time_constant_s, rel=0.10)


def on_the_dryer(seed: int) -> RelayTest:
    """Run the relay test on the simulated dryer, which has three bodies."""
    twin, test, now, air_c = Twin("twin", {"seed": seed}), start(setpoint_c=70.0), 100.0, 22.0
    on = True
    while test.outcome == "running":
        twin.want(frozenset({"fan", "heater"} if on else {"fan"}), now)
        now += 1.0
        for sample in twin.poll(now).samples:
            if sample.channel == "twin/air" and sample.value is not None:
                air_c = sample.value
        on, test = advance(test, air_c, now)
    return test


def test_a_dryer_with_walls_of_its_own_gives_the_gain_that_holds_and_the_speed_that_shows() -> None:
    """The test outlasts the warming of the walls; the swing is explained; a second test says the same within a tenth."""
    speeds = []
    for seed in (1, 2):
        test = on_the_dryer(seed)
        found = identify(test)
        turns = test.turns_s[-2 * test.swings - 1 :]
        heated = sum(turns[i + 1] - turns[i] for i in range(1, len(turns) - 1, 2)) / (turns[-1] - turns[0])
        assert len(test.turns_s) > 2 * test.swings + 1
        assert found.plant.gain_k * heated == pytest.approx(70.0 - test.room_c, rel=0.05)
        assert found.misfit_k < 0.3
        assert 15.0 < found.plant.delay_s < 60.0
        speeds.append(found.plant.gain_k / found.plant.time_constant_s)
    assert speeds[0] == pytest.approx(speeds[1], rel=0.10)


def test_a_test_not_done_is_not_read() -> None:
    with pytest.raises(TuningError, match="was broken off: the door is open"):
        identify(start(door_open=True))


def test_a_swing_faster_than_the_sensor_is_refused() -> None:
    test = replace(
        start(),
        outcome="done",
        turns_s=tuple(float(n) for n in range(10, 19)),
        times_s=(9.0, 20.0),
        readings_c=(79.0, 81.0),
    )
    with pytest.raises(TuningError, match="faster than the sensor"):
        identify(test)
