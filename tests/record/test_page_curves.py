"""Curves on one row of points: means are means, gaps stay gaps, a value holds until the next."""

from __future__ import annotations

import pytest

from dryward.record.gather import gather
from dryward.record.page_curves import Curves, Grid, curves, grid_of
from dryward.record.queries import Record
from tests.record.batch import write_batch


@pytest.fixture(scope="module")
def drawn(tmp_path_factory: pytest.TempPathFactory) -> Curves:
    path = tmp_path_factory.mktemp("curves") / "r.db"
    write_batch(path)
    with Record(path) as record:
        facts = gather(record, "r1")
        assert grid_of(facts.run).points == 360
        return curves(record, facts)


def test_the_parts_of_a_run_cover_it_evenly() -> None:
    grid = Grid(first=100, last=199, points=10, period_s=36.0)
    assert [grid.part(t) for t in (100, 109, 110, 199, 50, 500)] == [0, 0, 1, 9, 0, 9]
    assert grid.ticks()[0] == 105.0
    assert (grid.share(100), grid.share(199)) == (0.0, 1.0)
    assert grid.hours == pytest.approx(0.99)


def test_air_setpoint_and_wet_bulb_are_those_of_their_time(drawn: Curves) -> None:
    air = drawn.of_role("control-air")[0]
    assert air.mean[90] == pytest.approx(50.0, abs=0.5)
    assert air.mean[270] == pytest.approx(60.0, abs=0.5)
    assert (drawn.setpoint_c[90], drawn.setpoint_c[270]) == (50.0, 60.0)
    # 50 degC and 40 %RH: wet bulb 35.6 degC by a psychrometric chart at sea level (from memory), which reads to about 0.5 K
    assert drawn.wet_bulb_c[90] == pytest.approx(35.6, abs=0.7)


def test_loss_is_of_the_green_weight_and_unknown_where_nothing_weighed(drawn: Curves) -> None:
    assert drawn.loss_pct["loin-a"][-1] == pytest.approx(36.0, abs=0.3)
    assert set(drawn.loss_pct["loin-b"]) == {None}
    assert drawn.energy_kwh[-1] == pytest.approx(1.0, abs=0.01)
