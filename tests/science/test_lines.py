"""Published lines for water activity."""

from __future__ import annotations

import pytest

from dryward.science.lines import GROWTH, LOW_ACID, SHELF_STABLE, keeps_without_cold, side


def test_lines_are_those_of_their_sources() -> None:
    """USDA FSIS: 0.85; 21 CFR 114.3: 0.85 with pH 4.6; FDA and USDA ARS guides: growth minima 0.92, 0.93, 0.94."""
    assert (SHELF_STABLE.water_activity, SHELF_STABLE.source) == (0.85, "USDA FSIS")
    assert (LOW_ACID.water_activity, LOW_ACID.source) == (0.85, "21 CFR 114.3")
    assert [(line.water_activity, line.above.split()[0]) for line in GROWTH] == [
        (0.92, "Listeria"),
        (0.93, "Clostridium"),
        (0.94, "Salmonella"),
    ]


def test_only_a_whole_interval_lies_on_one_side() -> None:
    assert side(SHELF_STABLE, lo=0.70, hi=0.85) == "at or below"
    assert side(SHELF_STABLE, lo=0.80, hi=0.86) == "not known"
    assert side(SHELF_STABLE, lo=0.85, hi=0.90) == "not known"
    assert side(SHELF_STABLE, lo=0.86, hi=0.97) == "above"


@pytest.mark.parametrize(
    ("water_activity", "highest_ph"),
    [(0.87, 14.0), (0.88, 5.0), (0.90, 5.0), (0.91, 4.6), (0.92, 4.6), (0.93, 4.2), (0.99, 4.2)],
)
def test_food_code_table_b(water_activity: float, highest_ph: float) -> None:
    """FDA Food Code, Table B, food not heat-treated (read in another government document)."""
    assert keeps_without_cold(water_activity, ph=highest_ph, heat_treated_and_packaged=False)
    assert not keeps_without_cold(water_activity, ph=highest_ph + 0.1, heat_treated_and_packaged=False)


@pytest.mark.parametrize(("water_activity", "highest_ph"), [(0.92, 14.0), (0.93, 5.6), (0.95, 5.6), (0.96, 4.6)])
def test_food_code_table_a(water_activity: float, highest_ph: float) -> None:
    """FDA Food Code, Table A, food heat-treated and packaged (read in another government document)."""
    assert keeps_without_cold(water_activity, ph=highest_ph, heat_treated_and_packaged=True)
    assert not keeps_without_cold(water_activity, ph=highest_ph + 0.1, heat_treated_and_packaged=True)
