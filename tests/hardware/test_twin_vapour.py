"""Vapour in a volume of air, and surfaces that are wetted by it."""

from __future__ import annotations

import pytest
from scipy.integrate import solve_ivp

from dryward_hardware.twin.vapour import Vapour, WetSurface


def test_the_step_solves_the_balance_of_the_air_exactly() -> None:
    """Source: scipy's integrator."""
    vapour = Vapour(air_kg=0.13, ratio=0.008)
    integral = vapour.step(25.0, 2e-4, 6e-3)
    found = solve_ivp(lambda _, y: [(2e-4 - 6e-3 * y[0]) / 0.13, y[0]], (0.0, 25.0), [0.008, 0.0], rtol=1e-10, atol=1e-14)
    assert vapour.ratio == pytest.approx(found.y[0][-1], rel=1e-7)
    assert integral == pytest.approx(found.y[1][-1], rel=1e-7)


def test_a_dry_surface_gives_nothing_to_dry_air_and_takes_dew_from_moist_air() -> None:
    wall = WetSurface()
    wall.face(30.0, mass_kg_s=0.02, saturated=0.01, ratio=0.005)
    assert (wall.give, wall.fall) == (0.0, 0.0)
    wall.face(30.0, mass_kg_s=0.02, saturated=0.01, ratio=0.015)
    assert wall.give - wall.fall * 0.015 == pytest.approx(-0.02 * 0.005)


def test_a_film_gives_at_most_what_it_holds() -> None:
    wall = WetSurface()
    wall.kg = 1e-4
    wall.face(30.0, mass_kg_s=0.02, saturated=0.01, ratio=0.005)
    assert (wall.give - wall.fall * 0.005) * 30.0 == pytest.approx(1e-4)


def test_water_that_was_not_there_never_reached_the_air() -> None:
    wall, vapour = WetSurface(), Vapour(air_kg=0.1, ratio=0.008)
    wall.kg = 1e-5
    wall.gave(3e-5, vapour)
    assert wall.kg == 0.0
    assert vapour.ratio == pytest.approx(0.008 - 2e-5 / 0.1)
