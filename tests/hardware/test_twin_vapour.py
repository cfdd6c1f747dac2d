"""Vapour in a volume of air, and surfaces that are wetted by it."""

from __future__ import annotations

import pytest
from scipy.integrate import solve_ivp

from dryward_hardware.twin.vapour import Vapour, WetSurface


def test_the_step_solves_the_balance_of_the_air_exactly() -> None:
    """Source: scipy's integrator."""
    vapour = Vapour(air_kg=0.13, ratio=0.008)
    integral = vapour.step(25.0, 2e-4, 6e-3)
    found = solve_ivp(
        lambda _, y: [(2e-4 - 6e-3 * y[0]) / 0.13, y[0]], (0.0, 25.0), [0.008, 0.0], rtol=1e-10, atol=1e-14
    )
    assert vapour.ratio == pytest.approx(found.y[0][-1], rel=1e-7)
    assert integral == pytest.approx(found.y[1][-1], rel=1e-7)


def test_air_that_nothing_leaves_keeps_its_water() -> None:
    vapour = Vapour(air_kg=0.1, ratio=0.008)
    assert vapour.step(10.0, 0.0, 0.0) == pytest.approx(0.08)
    assert vapour.ratio == 0.008
    vapour.step(10.0, 1e-5, 0.0)
    assert vapour.ratio == pytest.approx(0.009)


def test_a_dry_surface_gives_nothing_to_dry_air() -> None:
    wall = WetSurface()
    wall.face(30.0, mass_kg_s=0.02, saturated=0.01, vapour=Vapour(air_kg=0.1, ratio=0.005))
    assert (wall.give, wall.fall) == (0.0, 0.0)


def test_dew_never_takes_the_air_below_the_surfaces_own_saturation() -> None:
    """Source: the balance of air and surface alone, an exponential towards saturation."""
    wall, vapour = WetSurface(), Vapour(air_kg=0.05, ratio=0.030)
    wall.face(60.0, mass_kg_s=0.02, saturated=0.01, vapour=vapour)
    vapour.step(60.0, wall.give, wall.fall + 1e-12)
    assert vapour.ratio == pytest.approx(0.01, abs=1e-6)
    assert wall.gave(60.0, 0.0) == pytest.approx(-0.05 * 0.020, rel=1e-6)
    assert wall.kg == pytest.approx(0.001, rel=1e-6)


def test_a_thick_film_gives_by_the_difference_to_saturation() -> None:
    wall = WetSurface()
    wall.kg = 1.0
    wall.face(30.0, mass_kg_s=0.02, saturated=0.01, vapour=Vapour(air_kg=0.1, ratio=0.004))
    assert wall.give - wall.fall * 0.004 == pytest.approx(0.02 * 0.006)
    assert wall.gave(30.0, 0.004 * 30.0) == pytest.approx(0.02 * 0.006 * 30.0)
    assert wall.kg == pytest.approx(1.0 - 0.0036)


def test_a_film_gives_at_most_what_it_holds_however_dry_the_air_becomes() -> None:
    wall = WetSurface()
    wall.kg = 1e-4
    wall.face(30.0, mass_kg_s=0.02, saturated=0.01, vapour=Vapour(air_kg=0.1, ratio=0.005))
    assert wall.gave(30.0, 0.0) == pytest.approx(1e-4)
    assert wall.kg == 0.0


@pytest.mark.parametrize("film_kg", [0.0, 1e-4])
def test_two_surfaces_in_a_little_air_do_not_take_its_water_twice_nor_moisten_it_past_saturation(
    film_kg: float,
) -> None:
    """Five seconds in 30 litres beside walls of 15 W/K and a coil of 12 W/K: each alone turns the air over."""
    walls, coil = WetSurface(), WetSurface()
    walls.kg = coil.kg = film_kg
    for ratio in (0.030, 0.002):
        vapour = Vapour(air_kg=0.034, ratio=ratio)
        walls.face(5.0, mass_kg_s=0.015, saturated=0.008, vapour=vapour, beside_kg_s=0.012)
        coil.face(5.0, mass_kg_s=0.012, saturated=0.008, vapour=vapour, beside_kg_s=0.015)
        vapour.step(5.0, walls.give + coil.give, walls.fall + coil.fall)
        assert min(ratio, 0.008) <= vapour.ratio <= max(ratio, 0.008)
