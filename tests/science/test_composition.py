"""Composition of raw cuts."""

from __future__ import annotations

import pytest

from dryward.science.composition import CUTS, WETTEST, of_cut


@pytest.mark.parametrize(
    ("cut", "water", "protein", "fat", "ash"),
    [
        ("pork shoulder butt", 69.18, 17.42, 12.36, 0.83),
        ("pork shoulder butt, lean", 74.31, 18.73, 5.71, 0.88),
        ("pork loin, lean", 72.23, 21.43, 5.66, 1.05),
        ("beef eye of round, lean", 73.43, 23.37, 3.04, 1.10),
        ("beef top round, lean", 72.96, 23.59, 2.94, 1.12),
        ("duck, meat only", 73.77, 18.28, 5.95, 1.06),
    ],
)
def test_usda_rows(cut: str, water: float, protein: float, fat: float, ash: float) -> None:
    """USDA National Nutrient Database for Standard Reference, release 26 (butt: Boston butt)."""
    row = of_cut(cut)
    assert (row.water_pct, row.protein_pct, row.fat_pct, row.ash_pct) == (water, protein, fat, ash)
    assert row.known


def test_every_row_adds_up_to_about_a_hundred() -> None:
    for row in CUTS:
        assert row.water_pct + row.protein_pct + row.fat_pct + row.ash_pct == pytest.approx(100.0, abs=1.5), row.cut


@pytest.mark.parametrize(
    ("said", "row"),
    [("Pork loin", "pork loin, lean"), ("eye of round", "beef eye of round, lean"), ("duck breast", "duck, meat only")],
)
def test_cuts_are_found_as_people_name_them(said: str, row: str) -> None:
    assert of_cut(said).water_pct == of_cut(row).water_pct


@pytest.mark.parametrize("said", ["", "venison haunch", "meat"])
def test_an_unknown_cut_counts_as_the_wettest_and_says_so(said: str) -> None:
    row = of_cut(said)
    assert not row.known
    assert row.water_pct == WETTEST.water_pct == 74.31
    assert "wettest" in row.source
