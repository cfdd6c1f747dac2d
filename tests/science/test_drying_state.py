"""Water balance and estimated water activity of a drying piece."""

from __future__ import annotations

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from dryward.science.brine import molality_of_water_phase, water_activity
from dryward.science.drying_state import DryingState, drying_state, fractions_typed, lowest
from dryward.science.figures import BadFigures

waters = st.floats(55.0, 80.0)
salts = st.floats(0.0, 8.0)
losses = st.floats(-2.0, 60.0)


def state(
    *, water_pct: float = 70.0, salt_pct: float = 2.5, loss_pct: float = 35.0, green_g: float = 1000.0
) -> DryingState:
    return drying_state(green_g=green_g, water_pct=water_pct, salt_pct=salt_pct, loss_pct=loss_pct)


def test_the_common_case_is_about_0_95_and_not_shelf_stable() -> None:
    """1 kg at 70 % water, 2.5 % salt, 35 % loss: 350 g of water and salt are left, 1.2-1.4 mol/kg (computed); 0.85 is the line of USDA FSIS."""
    made = state()
    assert made.water_g + made.salt_g == pytest.approx(350.0)
    assert 1.2 < made.molality_mol_per_kg < 1.4
    assert made.water_activity == pytest.approx(0.955, abs=0.005)
    assert made.water_activity_lo > 0.85


@pytest.mark.parametrize(("loss_pct", "moisture_pct"), [(30.0, 62.04), (35.0, 59.12), (40.0, 55.72)])
def test_moisture_of_an_unsalted_piece(loss_pct: float, moisture_pct: float) -> None:
    """(w0 - L) / (1 - L) for beef eye of round at 73.43 % (USDA SR26), computed."""
    assert state(water_pct=73.43, salt_pct=0.0, loss_pct=loss_pct).moisture_pct == pytest.approx(
        moisture_pct, abs=0.005
    )


def test_eye_of_round_reaches_60_per_cent_moisture_at_33_6_per_cent_loss() -> None:
    """Upper moisture of Bresaola della Valtellina by cut: 60 % (Gazzetta Ufficiale 2014)."""
    assert state(water_pct=73.43, salt_pct=0.0, loss_pct=33.575).moisture_pct == pytest.approx(60.0, abs=0.01)


UW_MADISON = [(14.2, 0.76), (10.6, 0.82), (8.1, 0.90), (6.5, 0.92), (5.6, 0.93)]
"""University of Wisconsin-Madison, shelf-stability table: salt in the water phase, % -> measured water activity of real products."""


@pytest.mark.parametrize(("water_phase_salt_pct", "measured"), UW_MADISON)
def test_measured_products_lie_inside_the_interval_and_below_the_point(
    water_phase_salt_pct: float, measured: float
) -> None:
    """One-sided: the estimate is never below a measured product by more than its interval says."""
    point = water_activity(molality_of_water_phase(water_phase_salt_pct))
    assert measured <= point
    assert point - measured == pytest.approx(0.085, abs=0.06)  # 0.03-0.14 as the table was read
    assert lowest(water_phase_salt_pct) <= measured


@pytest.mark.parametrize(("water_phase_salt_pct", "measured"), UW_MADISON)
def test_a_piece_with_that_much_salt_in_its_water_holds_the_measured_value(
    water_phase_salt_pct: float, measured: float
) -> None:
    made = _with_water_phase_salt(water_phase_salt_pct)
    assert made.water_phase_salt_pct == pytest.approx(water_phase_salt_pct, abs=0.01)
    assert made.water_activity_lo <= measured <= made.water_activity_hi


def _with_water_phase_salt(wanted_pct: float) -> DryingState:
    low, high = 0.0, 65.0
    while high - low > 1e-6:
        middle = (low + high) / 2.0
        low, high = (middle, high) if state(loss_pct=middle).water_phase_salt_pct < wanted_pct else (low, middle)
    return state(loss_pct=low)


@given(waters, salts, losses)
def test_the_interval_holds_the_point_and_mass_closes(water_pct: float, salt_pct: float, loss_pct: float) -> None:
    assume(water_pct - salt_pct - loss_pct > 0.5)
    made = state(water_pct=water_pct, salt_pct=salt_pct, loss_pct=loss_pct)
    assert made.water_activity_lo <= made.water_activity <= made.water_activity_hi <= 1.0
    assert made.water_g + made.salt_g + 1000.0 * (100.0 - water_pct) / 100.0 == pytest.approx(made.weight_g)


@given(waters, salts, losses, losses)
def test_the_estimate_falls_with_loss(water_pct: float, salt_pct: float, one: float, other: float) -> None:
    little, much = sorted((one, other))
    assume(water_pct - salt_pct - much > 0.5)
    before, after = (state(water_pct=water_pct, salt_pct=salt_pct, loss_pct=loss) for loss in (little, much))
    assert after.water_activity <= before.water_activity + 1e-12
    assert after.water_activity_lo <= before.water_activity_lo + 1e-12
    assert after.water_activity_hi <= before.water_activity_hi + 1e-12


@given(waters, losses, salts, salts)
def test_the_estimate_falls_with_salt(water_pct: float, loss_pct: float, one: float, other: float) -> None:
    little, much = sorted((one, other))
    assume(water_pct - much - loss_pct > 0.5)
    plain, salted = (state(water_pct=water_pct, salt_pct=salt, loss_pct=loss_pct) for salt in (little, much))
    assert salted.water_activity <= plain.water_activity + 1e-12
    assert salted.water_activity_hi <= plain.water_activity_hi + 1e-12


def test_moisture_to_protein_of_jerky() -> None:
    """FSIS 2004 names 0.75:1 as jerky: it names products and is not to be used for food safety. Top round (USDA SR26): 23.59 % protein."""
    made = drying_state(green_g=1000.0, water_pct=72.96, salt_pct=0.0, loss_pct=72.96 - 0.75 * 23.59, protein_pct=23.59)
    assert made.moisture_protein == pytest.approx(0.75)


def test_a_loss_greater_than_the_water_is_refused_with_the_limit() -> None:
    with pytest.raises(BadFigures, match=r"can lose less than 67.5 %"):
        state(loss_pct=70.0)


@given(st.floats(0.3, 0.85))
def test_water_as_a_fraction_is_named(fraction: float) -> None:
    with pytest.raises(BadFigures, match="fraction, write"):
        state(water_pct=fraction)


@given(st.floats(0.02, 0.09), st.floats(0.1, 0.6))
def test_salt_and_loss_typed_as_fractions_are_both_named(salt: float, loss: float) -> None:
    said = fractions_typed(salt_pct=salt, loss_pct=loss)
    assert all(one is not None and "fraction, write" in one for one in said)
    assert fractions_typed(salt_pct=2.5, loss_pct=35.0) == [None, None]
    assert fractions_typed(salt_pct=0.0, loss_pct=0.0) == [None, None]
