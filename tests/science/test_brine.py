"""NaCl in water against a published table and against another program."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from phreeqc import Phreeqc

from dryward.science.brine import SATURATED_MOL_PER_KG, brine, molality_of_water_phase, water_activity
from dryward.science.figures import BadFigures

HAMER_WU = {
    0.1: 0.99664, 0.2: 0.99336, 0.5: 0.98354, 0.8: 0.97358, 1.0: 0.96684, 2.0: 0.93155,
    3.0: 0.89319, 4.0: 0.85143, 5.0: 0.80689, 6.0: 0.75991, 6.144: 0.75308,
}  # fmt: skip
"""Computed from the osmotic coefficients of Hamer & Wu 1972, Table 16 (25 degC): aw = exp(-2 m phi 0.0180153)."""


@pytest.mark.parametrize(("molality", "expected"), HAMER_WU.items())
def test_the_published_table_is_met(molality: float, expected: float) -> None:
    assert water_activity(molality) == pytest.approx(expected, abs=3e-4 if molality <= 5.5 else 1e-3)


def test_another_program_agrees() -> None:
    """PHREEQC 3 of the US Geological Survey with its pitzer.dat, another set of parameters, 25 degC."""
    molalities = [0.1, 0.3, 0.7, 1.2, 1.4, 2.5, 3.5, 4.5, 5.5, 6.0]
    program = Phreeqc()
    assert program.LoadBuiltInDatabase("pitzer.dat") == 0
    solutions = "\n".join(
        f"SOLUTION {number}\n temp 25\n units mol/kgw\n Na {m}\n Cl {m}\nEND" for number, m in enumerate(molalities, 1)
    )
    assert (
        program.RunString(
            f"SELECTED_OUTPUT\n -reset false\nUSER_PUNCH\n -headings aw\n 10 PUNCH ACT('H2O')\nEND\n{solutions}"
        )
        == 0
    )
    answers = program.GetSelectedOutput()["aw"]
    assert len(answers) == len(molalities)
    for molality, answer in zip(molalities, answers, strict=True):
        assert water_activity(molality) == pytest.approx(answer, abs=5e-4), molality


def test_saturated_salt_agrees_with_the_humidity_fixed_point() -> None:
    """OIML R 121, 1996, Table 1: the air over saturated NaCl holds 75.5 %RH at 20 degC and 75.1 at 30."""
    assert 100.0 * water_activity(SATURATED_MOL_PER_KG) == pytest.approx(75.3, abs=0.3)


def test_a_brine_by_hand() -> None:
    """58.443 g (one mole of NaCl) in 1 kg of water."""
    made = brine(salt_g=58.443, water_g=1000.0)
    assert made.molality_mol_per_kg == pytest.approx(1.0)
    assert made.salt_pct_of_brine == pytest.approx(5.5216, abs=1e-4)
    assert made.water_activity == pytest.approx(0.96684, abs=3e-4)
    assert not made.saturated


@given(st.floats(0.0, 20.0), st.floats(0.0, 20.0))
def test_more_salt_never_raises_the_activity(one: float, other: float) -> None:
    little, much = sorted((one, other))
    assert 0.75 < water_activity(much) <= water_activity(little) + 1e-12 <= 1.0 + 1e-12


@given(st.floats(0.01, 26.0))
def test_strength_and_molality_belong_together(salt_pct: float) -> None:
    made = brine(salt_g=salt_pct, water_g=100.0 - salt_pct)
    assert made.molality_mol_per_kg == pytest.approx(molality_of_water_phase(salt_pct))


def test_salt_beyond_saturation_stays_as_crystals() -> None:
    made = brine(salt_g=500.0, water_g=1000.0)
    assert made.saturated
    assert made.water_activity == water_activity(SATURATED_MOL_PER_KG)


@pytest.mark.parametrize(("salt_g", "water_g"), [(-1.0, 100.0), (1.0, 0.0), (math.nan, 100.0)])
def test_impossible_brines_are_refused(salt_g: float, water_g: float) -> None:
    with pytest.raises(BadFigures):
        brine(salt_g=salt_g, water_g=water_g)
