"""The humidity setpoint stands unless a step lets it follow, and then stays within the step's bounds."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dryward.core.program import Ends, Piece, Step
from dryward.core.rh_follow import wanted_rh_pct
from dryward.core.weighing import PieceState
from dryward.science.drying_state import drying_state


def step(*, rh_pct: float | None = 78.0, low: float | None = 70.0, high: float | None = None) -> Step:
    return Step(
        name="s", air_c=13.0, ends=Ends(dwell_h=1.0), rh_pct=rh_pct, rh_follow_low_pct=low, rh_follow_high_pct=high
    )


def piece(loss_pct: float | None, *, salt_pct: float | None = 3.0, name: str = "a") -> PieceState:
    made = Piece(name=name, green_g=1000.0, salt_pct=salt_pct, cut="pork loin, lean")
    weight_g = None if loss_pct is None else 1000.0 - 10.0 * loss_pct
    return PieceState(made, weight_g=weight_g, weighed_s=None if weight_g is None else 0.0)


def test_it_is_off_by_default() -> None:
    assert wanted_rh_pct(step(low=None), (piece(30.0),)) == 78.0
    assert wanted_rh_pct(step(rh_pct=None, low=None), (piece(30.0),)) is None


def test_it_falls_by_what_the_water_activity_has_fallen() -> None:
    """Pork loin, 3 % salt, 30 % lost: the brine in it, by Hamer & Wu 1972, from 4 to 7 % salt."""
    raw, now = (
        drying_state(green_g=1000.0, water_pct=72.23, salt_pct=3.0, loss_pct=loss).water_activity
        for loss in (0.0, 30.0)
    )
    assert 0.015 < raw - now < 0.06
    assert wanted_rh_pct(step(), (piece(30.0),)) == pytest.approx(78.0 - 100.0 * (raw - now), abs=1e-6)


def test_the_wettest_piece_counts() -> None:
    both = (piece(40.0), piece(10.0, name="b"))
    assert wanted_rh_pct(step(), both) == wanted_rh_pct(step(), both[1:])


@pytest.mark.parametrize(
    "unknown", [piece(None), piece(30.0, salt_pct=None), piece(69.5)], ids=["weight", "salt", "too light"]
)
def test_what_is_not_known_changes_nothing(unknown: PieceState) -> None:
    assert wanted_rh_pct(step(), (unknown,)) == 78.0


@given(
    losses=st.lists(st.floats(-5.0, 90.0), min_size=1, max_size=4), salt_pct=st.floats(0.0, 15.0), low=st.floats(50.0, 77.0), high=st.floats(79.0, 90.0)
)  # fmt: skip
def test_it_never_leaves_its_bounds(losses: list[float], salt_pct: float, low: float, high: float) -> None:
    pieces = tuple(piece(loss, salt_pct=salt_pct, name=f"p{n}") for n, loss in enumerate(losses))
    wanted = wanted_rh_pct(step(low=low, high=high), pieces)
    assert wanted is not None
    assert low <= wanted <= high
    only_down = wanted_rh_pct(step(low=low), pieces)
    assert only_down is not None
    assert low <= only_down <= 78.0
