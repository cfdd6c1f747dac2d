"""Exact steps of three heated bodies, against scipy's matrix exponential."""

from __future__ import annotations

import pytest
from scipy.integrate import quad_vec
from scipy.linalg import expm

from dryward_hardware.twin.heat import Bodies, propagator

RATES = [[-0.07, 0.07, 0.0], [0.003, -0.02, 0.008], [0.0, 0.002, -0.0024]]
STIFF = [[-40.0, 40.0, 0.0], [3.0, -9.0, 6.0], [0.0, 0.002, -0.0024]]


@pytest.mark.parametrize("rates", [RATES, STIFF])
@pytest.mark.parametrize("dt_s", [0.25, 5.0, 30.0])
def test_the_step_is_the_matrix_exponential_and_its_integrals(rates: list[list[float]], dt_s: float) -> None:
    import numpy as np

    a = np.array(rates)
    steps = propagator(rates, dt_s)
    gam, _ = quad_vec(lambda s: expm(a * s), 0.0, dt_s, epsrel=1e-10)
    gam2, _ = quad_vec(lambda s: (dt_s - s) * expm(a * s), 0.0, dt_s, epsrel=1e-10)
    assert steps[:9] == pytest.approx(expm(a * dt_s).ravel(), rel=1e-8, abs=1e-12)
    assert steps[9:18] == pytest.approx(gam.ravel(), rel=1e-7, abs=1e-11)
    assert steps[18:] == pytest.approx(gam2[1:].ravel(), rel=1e-7, abs=1e-11)


def _advance(x: list[float], b: list[float], steps: tuple[float, ...]) -> list[float]:
    return [sum(steps[3 * i + j] * x[j] + steps[9 + 3 * i + j] * b[j] for j in range(3)) for i in range(3)]


def test_one_long_step_equals_many_short_ones() -> None:
    bodies = Bodies(
        capacities=(120.0, 3000.0, 12_000.0), source_air=8.0, air_wall=25.0, air_out=5.0, wall_out=4.0, tick_s=0.25
    )
    once = _advance([60.0, 30.0, 22.0], [2.0, 0.1, 0.01], bodies.over(20))
    often = [60.0, 30.0, 22.0]
    for _ in range(20):
        often = _advance(often, [2.0, 0.1, 0.01], bodies.over(1))
    assert once == pytest.approx(often, rel=1e-12)


def test_bodies_left_alone_in_a_room_come_to_rest_at_its_temperature() -> None:
    bodies = Bodies(
        capacities=(120.0, 3000.0, 12_000.0), source_air=8.0, air_wall=25.0, air_out=5.0, wall_out=4.0, tick_s=0.25
    )
    x = [90.0, 80.0, 70.0]
    for _ in range(20_000):
        x = _advance(x, [0.0, 5.0 * 22.0 / 3000.0, 4.0 * 22.0 / 12_000.0], bodies.over(20))
    assert x == pytest.approx([22.0, 22.0, 22.0], abs=1e-6)


def test_steps_of_one_length_are_worked_out_once() -> None:
    bodies = Bodies(capacities=(1.0, 1.0, 1.0), source_air=1.0, air_wall=1.0, air_out=1.0, wall_out=1.0, tick_s=0.25)
    assert bodies.over(8) is bodies.over(8)
