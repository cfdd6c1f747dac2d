"""A drying piece: its form, the wet-bulb plateau, its accounts, its limits."""

from __future__ import annotations

from math import pi

import psychrolib
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from dryward_hardware.ports import Hung
from dryward_hardware.twin.moist_air import PRESSURE_PA, humidity_ratio, saturation_pa
from dryward_hardware.twin.options import Meat
from dryward_hardware.twin.piece import PieceBody, shape_of

psychrolib.SetUnitSystem(psychrolib.SI)
WET = Meat(
    diffusivity_m2_s=1e-7, activation_j_mol=0.0, dry_share=1.0, start_c=20.0, half_activity_kg_kg=0.01
)  # its surface stays wet


def in_air(
    piece: PieceBody, *, air_c: float, rh_pct: float, hours: float, dt_s: float = 30.0, film: float = 25.0
) -> float:
    """Keep a piece in air that nothing changes; returns its mean rate over the last step, g/m2/h."""
    ratio = humidity_ratio(rh_pct / 100.0 * saturation_pa(air_c))
    given_kg = 0.0
    for _ in range(round(hours * 3600.0 / dt_s)):
        piece.ready(dt_s, film_w_m2k=film, lewis_factor=1.0, air_c=air_c, ratio=ratio)
        given_kg = (piece.give_at_zero - piece.give_fall * ratio) * dt_s
        piece.settle(film * piece.shape.area_m2 * (air_c - piece.surface_ahead_c) * dt_s, given_kg)
    return 1000.0 * given_kg / piece.shape.area_m2 / dt_s * 3600.0


@pytest.mark.parametrize(("air_c", "rh_pct"), [(80.0, 10.0), (80.0, 20.0), (65.0, 20.0), (40.0, 40.0), (13.0, 80.0)])
def test_a_wet_surface_settles_at_the_wet_bulb(air_c: float, rh_pct: float) -> None:
    """Source: psychrolib 2.5.0 (thermodynamic wet bulb, ASHRAE); allowed 1.5 K."""
    piece = PieceBody(Hung(name="p", green_g=200.0, thickness_mm=30.0), WET)
    in_air(piece, air_c=air_c, rh_pct=rh_pct, hours=0.8)
    assert piece.surface_c == pytest.approx(psychrolib.GetTWetBulbFromRelHum(air_c, rh_pct / 100.0, 101_325.0), abs=1.5)


@pytest.mark.parametrize(
    ("air_c", "rh_pct", "g_m2_h"), [(80.0, 10.0, 1504.0), (80.0, 20.0, 1190.0), (65.0, 20.0, 999.0), (13.0, 80.0, 69.0)]
)
def test_a_wet_surface_gives_the_water_that_its_heat_can_evaporate(air_c: float, rh_pct: float, g_m2_h: float) -> None:
    """Source: heat route h (T - Twb) / L with CoolProp 8.0.0, h = 25 W/m2K; the mass route agrees within 0.1 %.

    Allowed 2 %: the twin's latent heat is a straight line, its air an ideal gas.
    """
    piece = PieceBody(Hung(name="p", green_g=200.0, thickness_mm=30.0), WET)
    assert in_air(piece, air_c=air_c, rh_pct=rh_pct, hours=3.0) == pytest.approx(g_m2_h, rel=0.02)


def test_a_common_piece_is_70_mm_thick() -> None:
    """Common practice, no source: pieces of about 750 g have a radius of about 35 mm."""
    shape = shape_of(Hung(name="p", green_g=750.0), Meat())
    assert shape.cylinder
    assert shape.depth_m == pytest.approx(0.035, rel=0.02)


def test_a_given_thickness_makes_a_rod_or_a_slab_of_the_right_volume() -> None:
    rod = shape_of(Hung(name="p", green_g=1040.0, thickness_mm=80.0), Meat())
    assert rod.cylinder
    assert rod.area_m2 * rod.depth_m / 2 == pytest.approx(1e-3)
    assert rod.depth_m == pytest.approx(0.04)
    slab = shape_of(Hung(name="p", green_g=1040.0, thickness_mm=20.0), Meat())
    assert not slab.cylinder
    assert slab.area_m2 * slab.depth_m == pytest.approx(1e-3)


def test_the_form_can_be_asked_for() -> None:
    assert not shape_of(Hung(name="p", green_g=750.0), Meat(shape="slab")).cylinder
    thin = shape_of(Hung(name="p", green_g=100.0, thickness_mm=5.0), Meat(shape="cylinder"))
    assert thin.cylinder
    length = thin.area_m2 / (2 * pi * thin.depth_m)
    assert pi * thin.depth_m**2 * length == pytest.approx(0.1 / 1040.0)


def test_a_dry_piece_comes_to_rest_with_the_air() -> None:
    """At rest the surface's water activity is the air's relative humidity and its temperature the air's."""
    piece = PieceBody(Hung(name="p", green_g=50.0, thickness_mm=4.0), Meat(diffusivity_m2_s=1e-9))
    in_air(piece, air_c=60.0, rh_pct=40.0, hours=60.0)
    assert piece.surface_c == pytest.approx(60.0, abs=0.1)
    assert piece.activity() == pytest.approx(0.40, abs=0.01)
    assert piece.water.moisture[0] == pytest.approx(piece.water.moisture[-1], rel=0.02)


def test_heat_spreads_from_the_surface_to_the_core() -> None:
    piece = PieceBody(Hung(name="p", green_g=750.0), Meat())
    in_air(piece, air_c=80.0, rh_pct=10.0, hours=0.5)
    assert piece.core_c < piece.middle_c < piece.surface_c
    assert piece.core_c <= piece.mean_c <= piece.surface_c


def test_a_cold_piece_in_warm_moist_air_takes_on_dew() -> None:
    piece = PieceBody(Hung(name="p", green_g=500.0), Meat(start_c=2.0))
    in_air(piece, air_c=25.0, rh_pct=80.0, hours=0.1)
    assert piece.mass_g > 500.0


@settings(deadline=None, max_examples=60)
@given(
    air_c=st.floats(-5.0, 119.0),
    rh_pct=st.floats(0.0, 100.0),
    film=st.floats(3.0, 80.0),
    green_g=st.floats(20.0, 3000.0),
    dt_s=st.sampled_from([1.0, 30.0, 60.0]),
)
def test_no_air_drives_a_piece_out_of_what_is_possible(
    air_c: float, rh_pct: float, film: float, green_g: float, dt_s: float
) -> None:
    """Moisture stays between nothing and the dew that warms the piece up; no temperature leaves the range of room and air."""
    assume(rh_pct / 100.0 * saturation_pa(air_c) < 0.5 * PRESSURE_PA)  # more steam than air is no drying chamber
    piece = PieceBody(Hung(name="p", green_g=green_g), Meat())
    in_air(piece, air_c=air_c, rh_pct=rh_pct, hours=2.0, dt_s=dt_s, film=film)
    assert min(piece.water.moisture) >= 0.0
    dew_kg = 1.2 * green_g / 1000.0 * 3700.0 * max(0.0, air_c - 6.0) / 2.3e6
    assert piece.water.water_kg <= 3.0 * piece.water.dry_kg + dew_kg + 1e-6
    assert min(air_c, 6.0) - 15.0 < piece.core_c < max(air_c, 6.0) + 1.0
    assert min(air_c, 6.0) - 15.0 < piece.surface_c < max(air_c, 6.0) + 1.0


@pytest.mark.parametrize(
    ("air_c", "green_g", "thickness_mm"), [(185.0, 50.0, None), (300.0, 20.0, 5.0), (-75.0, 50.0, None)]
)
def test_air_far_outside_any_program_takes_a_piece_to_its_own_temperature_and_no_further(
    air_c: float, green_g: float, thickness_mm: float | None
) -> None:
    """A heater that is welded takes the air of the dryer to 185 degC and more; meat never gets hotter than its air."""
    piece = PieceBody(Hung(name="p", green_g=green_g, thickness_mm=thickness_mm), Meat())
    for _ in range(24):
        in_air(piece, air_c=air_c, rh_pct=0.1, hours=1.0)
        assert min(piece.water.moisture) >= 0.0
        assert min(air_c, 6.0) - 1.0 < piece.surface_c < max(air_c, 6.0) + 1.0
    assert piece.core_c == pytest.approx(air_c, rel=0.02)


def test_the_enthalpy_of_a_piece_changes_by_what_it_is_told() -> None:
    piece = PieceBody(Hung(name="p", green_g=750.0), Meat())
    ratio, film, dt_s = 0.03, 25.0, 30.0
    for _ in range(200):
        before = piece.heat_j_k * piece.mean_c
        piece.ready(dt_s, film_w_m2k=film, lewis_factor=1.0, air_c=80.0, ratio=ratio)
        heat_j = film * piece.shape.area_m2 * (80.0 - piece.surface_ahead_c) * dt_s
        given_kg = (piece.give_at_zero - piece.give_fall * ratio) * dt_s
        vapour_j = piece.settle(heat_j, given_kg)
        assert piece.heat_j_k * piece.mean_c - before == pytest.approx(heat_j - vapour_j, rel=1e-3, abs=1.0)
