"""Plain heated bodies against closed forms and against the figures of dryward's control goals."""

from __future__ import annotations

from math import exp, log

import pytest

from dryward_hardware.ports import Hung
from dryward_hardware.twin import Twin
from dryward_hardware.twin.options import Body
from dryward_hardware.twin.plants import PLANTS

HEAT = frozenset({"heater"})
QUIET = {"temperature_noise_k": 0.0, "temperature_step_k": 0.0, "temperature_s": 0.25}


def relay_cycle(
    twin: Twin, *, setpoint_c: float, half_k: float, poll_s: float, hours: float, settle_h: float
) -> tuple[list[float], list[float]]:
    """Switch at setpoint +- half; returns the true temperatures after settling and the times of switching on."""
    heating, now_s, seen, ons = False, 0.0, [], []
    while now_s < hours * 3600.0:
        for sample in twin.poll(now_s).samples:
            if sample.channel == "sim/air" and sample.value is not None:
                wanted = (
                    False
                    if sample.value >= setpoint_c + half_k
                    else True
                    if sample.value <= setpoint_c - half_k
                    else heating
                )
                if wanted and not heating and now_s > settle_h * 3600.0:
                    ons.append(now_s)
                heating = wanted
        twin.want(HEAT if heating else frozenset(), now_s)
        if now_s > settle_h * 3600.0:
            seen.append(twin._model.true_c)
        now_s += poll_s
    return seen, ons


def test_a_relay_swings_as_the_closed_form_says() -> None:
    """First order with dead time under a relay, exact solution; ambient 20, K 80 K, tau 600 s, L 45 s, 65 +- 0.5 degC.

    Allowed 0.03 K and 1 s: the relay looks every 0.25 s.
    """
    ambient, rise, tau, dead, setpoint, half = 20.0, 80.0, 600.0, 45.0, 65.0, 0.5
    twin = Twin(
        "sim",
        {
            "model": "small-fan-box",
            "body": {"rise_k": rise, "time_constant_s": tau, "dead_s": dead, "lag_s": 0.0},
            "room": {"air_c": ambient},
            "sensing": QUIET,
        },
    )
    seen, ons = relay_cycle(twin, setpoint_c=setpoint, half_k=half, poll_s=0.25, hours=3.0, settle_h=1.5)
    full, none = ambient + rise, ambient
    highest = full + (setpoint + half - full) * exp(-dead / tau)
    lowest = none + (setpoint - half - none) * exp(-dead / tau)
    assert (highest, lowest) == (pytest.approx(67.9928, abs=1e-4), pytest.approx(61.2846, abs=1e-4))
    period = tau * log((full - lowest) / (full - highest)) + tau * log((highest - none) / (lowest - none))
    assert period == pytest.approx(114.167 + 90.338, abs=0.01)
    assert max(seen) == pytest.approx(highest, abs=0.03)
    assert min(seen) == pytest.approx(lowest, abs=0.03)
    assert (ons[-1] - ons[0]) / (len(ons) - 1) == pytest.approx(period, abs=1.0)


@pytest.mark.parametrize(
    ("model", "peak_to_peak", "rms", "overshoot", "cycles_per_h"),
    [("small-fan-box", 6.2, 1.7, 3.3, 22.0), ("slow-box", 6.2, 1.7, 3.3, 8.0)],
)
def test_switching_at_half_a_kelvin_does_on_the_reference_plants_what_is_known_of_it(
    model: str, peak_to_peak: float, rms: float, overshoot: float, cycles_per_h: float
) -> None:
    """Source: the project's reference figures; 22 degC room, 80 degC setpoint, readings every 2 s, 0.1 K noise and resolution."""
    twin = Twin("sim", {"model": model})
    seen, ons = relay_cycle(twin, setpoint_c=80.0, half_k=0.5, poll_s=2.0, hours=8.0, settle_h=3.0)
    assert max(seen) - min(seen) == pytest.approx(peak_to_peak, rel=0.05)
    assert (sum((x - 80.0) ** 2 for x in seen) / len(seen)) ** 0.5 == pytest.approx(rms, rel=0.05)
    assert max(seen) - 80.0 == pytest.approx(overshoot, rel=0.05)
    assert len(ons) / 5.0 == pytest.approx(cycles_per_h, rel=0.05)


@pytest.mark.parametrize("model", list(PLANTS))
def test_full_power_ends_at_the_rise_and_passes_63_per_cent_when_it_should(model: str) -> None:
    body = PLANTS[model]
    twin = Twin("sim", {"model": model, "sensing": QUIET})
    twin.want(HEAT, 0.0)
    at_s = body.time_constant_s + body.dead_s
    twin.poll(at_s)
    assert twin.truth().air_c == pytest.approx(22.0 + body.rise_k * (1 - exp(-1)), abs=0.01)
    twin.poll(40 * at_s)
    assert twin.truth().air_c == pytest.approx(22.0 + body.rise_k, abs=0.01)


def test_the_sensor_lags_behind_as_two_bodies_in_a_row_do() -> None:
    """Step response of two first orders in a row, textbook: 1 - (tau e^(-t/tau) - lag e^(-t/lag)) / (tau - lag)."""
    tau, lag, t = 900.0, 15.0, 120.0
    twin = Twin(
        "sim",
        {
            "model": "small-fan-box",
            "body": {"rise_k": 100.0, "time_constant_s": tau, "dead_s": 0.0, "lag_s": lag},
            "sensing": QUIET,
        },
    )
    twin.want(HEAT, 0.0)
    shown = next(s.value for s in twin.poll(t).samples if s.channel == "sim/air")
    assert shown == pytest.approx(
        22.0 + 100.0 * (1.0 - (tau * exp(-t / tau) - lag * exp(-t / lag)) / (tau - lag)), abs=1e-6
    )


def test_a_lag_as_long_as_the_time_constant_is_no_trap() -> None:
    """Two equal bodies in a row, textbook: 1 - (1 + t/tau) e^(-t/tau)."""
    tau, t = 100.0, 150.0
    twin = Twin(
        "sim",
        {
            "model": "slow-box",
            "body": {"rise_k": 50.0, "time_constant_s": tau, "dead_s": 0.0, "lag_s": tau},
            "sensing": QUIET,
        },
    )
    twin.want(HEAT, 0.0)
    shown = next(s.value for s in twin.poll(t).samples if s.channel == "sim/air")
    assert shown == pytest.approx(22.0 + 50.0 * (1.0 - (1.0 + t / tau) * exp(-t / tau)), abs=0.01)


def test_nothing_shows_before_the_dead_time() -> None:
    twin = Twin("sim", {"model": "slow-box"})
    twin.want(HEAT, 0.0)
    twin.poll(59.75)
    assert twin.truth().air_c == 22.0
    twin.poll(65.0)
    assert twin.truth().air_c > 22.1


def test_an_open_door_costs_heat_and_pieces_keep_their_weight() -> None:
    twin = Twin("sim", {"model": "overpowered", "start_c": 80.0})
    twin.hang([Hung(name="p", green_g=500.0, channel="hook")])
    twin.poll(0.0)
    twin.open_door()
    twin.poll(100.0)
    open_c = twin.truth().air_c
    assert open_c == pytest.approx(22.0 + 58.0 * exp(-100.0 * 4.0 / 400.0), abs=0.01)
    twin.close_door()
    twin.poll(200.0)
    assert twin.truth().air_c == pytest.approx(22.0 + (open_c - 22.0) * exp(-100.0 / 400.0), abs=0.01)
    twin.take_off("p")
    twin.put_back("p")
    assert twin.truth().pieces[0].mass_g == 500.0


def test_own_figures_take_the_place_of_the_named_ones() -> None:
    assert Twin(
        "sim", {"model": "slow-box", "body": {"rise_k": 10.0, "time_constant_s": 50.0, "dead_s": 0.0, "lag_s": 0.0}}
    ).options.body == Body(rise_k=10.0, time_constant_s=50.0, dead_s=0.0, lag_s=0.0)
