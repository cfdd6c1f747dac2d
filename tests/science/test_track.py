"""One piece followed along one shape: on the right shape its pace is found, on a wrong one the evidence is worse."""

from __future__ import annotations

import math

import pytest

from dryward.science.shapes import shapes
from dryward.science.track import PacePrior, Point, follow

BY_NAME = {shape.name: shape for shape in shapes()}
PACE = math.log(1.0 / 40_000.0)
STEP_S = 4_000.0


def weighed(name: str, count: int = 12, floor: float = 0.4) -> tuple[list[Point], list[float]]:
    shape = BY_NAME[name]
    stages = [0.02 + i * STEP_S * math.exp(PACE) for i in range(count)]
    return [Point(floor + (1.0 - floor) * shape.ratio(z)[0], 1.0) for z in stages], [STEP_S] * (count - 1)


def belief(on: str, name: str, prior: PacePrior | None = None):  # type: ignore[no-untyped-def]
    points, gains = weighed(name)
    return follow(points, gains, BY_NAME[on], floor=0.4, noise=0.0005, wander=0.08, flicker=0.0, prior=prior)


def test_on_its_own_shape_the_pace_is_found() -> None:
    found = belief("Page 0.85", "Page 0.85")
    assert found is not None
    assert found.pace == pytest.approx(PACE, abs=0.05)
    assert found.pace_var < 0.05


@pytest.mark.parametrize("other", ["Page 2", "order 2.2"])
def test_a_wrong_shape_has_less_evidence(other: str) -> None:
    right, wrong = belief("Page 0.85", "Page 0.85"), belief(other, "Page 0.85")
    assert right is not None
    assert wrong is None or wrong.evidence < right.evidence


def test_weights_below_the_floor_rule_it_out() -> None:
    points, gains = weighed("Page 1")
    assert (
        follow(points, gains, BY_NAME["Page 1"], floor=0.9, noise=0.0005, wander=0.08, flicker=0.0, prior=None) is None
    )


def test_what_past_runs_showed_draws_the_pace() -> None:
    free = belief("Page 1", "Page 1")
    drawn = belief("Page 1", "Page 1", PacePrior(PACE + 1.0, 0.0001))
    assert free is not None
    assert drawn is not None
    assert drawn.pace > free.pace
