"""What is said of the meat: careful probe, credited heat, a finish message that tells what loss does not prove."""

from __future__ import annotations

import pytest

from dryward.core.chamber import Sensor
from dryward.core.food import EVERY_S, Food, careful_core_c, follow, heat_facts, piece_done
from dryward.core.inputs import Stop, Weigh
from dryward.core.trust import SensorState
from dryward.core.weighing import PieceState, weigh_in
from tests.core.bench_chamber import AIR, HUMIDITY, Bench, chamber, piece

PROBES = tuple(Sensor(name=f"core-{i}", role="core", device=f"spike-{i}", reads="temperature") for i in (1, 2))


def probed() -> Bench:
    return Bench.of(chamber(sensors=(AIR, HUMIDITY, *PROBES)))


def known(*values: float | None) -> tuple[SensorState, ...]:
    return tuple(SensorState(v, 0.0, "fresh") if v is not None else SensorState() for v in values)


def test_the_coldest_probe_counts_while_heating_and_the_hottest_while_cooling() -> None:
    layout = probed().layout
    sensors = known(80.0, 95.0, 61.0, 64.0)
    assert careful_core_c(layout, sensors, heating=True) == 61.0
    assert careful_core_c(layout, sensors, heating=False) == 64.0
    assert careful_core_c(layout, known(80.0, 95.0, None, None), heating=True) is None


@pytest.mark.parametrize(("rh_pct", "credited"), [(95.0, True), (20.0, False), (None, False)])
def test_heat_is_credited_only_in_moist_air(rh_pct: float | None, credited: bool) -> None:
    """FSIS Appendix A: 112 min at 130 degF (54.4 degC) is 6.5 logs, only under a humidity condition (FSIS-GD-2021-14)."""
    layout = probed().layout
    food = Food()
    for minute in range(114):
        food = follow(layout, food, known(80.0, rh_pct, 54.45, 55.0), heating=True, now=60.0 * minute)
    assert food.heat.meets_6_5 is credited


def test_it_looks_every_half_minute_only() -> None:
    layout = probed().layout
    food = follow(layout, Food(), known(80.0, 20.0, 50.0, 50.0), heating=True, now=0.0)
    assert follow(layout, food, known(80.0, 99.0, 60.0, 60.0), heating=True, now=EVERY_S - 1.0) is food


def test_the_common_case_says_it_is_not_shelf_stable_and_what_to_do() -> None:
    """35 % loss and 2.5 % salt leave a water activity near 0.95 (computed); the line is 0.85 (USDA FSIS)."""
    bench = Bench.of()
    state = weigh_in(PieceState(piece("loin", 1000.0, salt_pct=2.5)), 650.0, 0.0)
    event = piece_done(state, 650.0, heat_facts(bench.layout, Food(), bench.state.run))
    assert "650 g of 1000 g" in event.text
    assert "not shelf stable" in event.meaning
    assert "4.4 degC" in event.advice
    assert "safe to eat" not in f"{event.text}{event.meaning}{event.advice}"


def test_a_run_ends_with_a_statement_for_each_weighed_piece() -> None:
    bench = Bench.of()
    bench.begin(piece("a", salt_pct=2.5), piece("b"))
    bench.turn(60.0, asks=(Weigh(piece="a", weight_g=800.0),))
    bench.ask(Stop(), 60.0)
    bench.turns(2, 60.0)
    said = [e for e in bench.said if e.kind == "finish-statement"]
    assert [e.subject for e in said] == ["a"]
    assert "[measured]" in said[0].text
    assert "[estimate]" in said[0].text
    assert "[not credited]" in said[0].text


def test_a_new_run_begins_with_no_heat_credited() -> None:
    bench = probed()
    bench.state = bench.state.__class__(
        **{f: getattr(bench.state, f) for f in bench.state.__dataclass_fields__} | {"food": Food(most_rh_pct=99.0)}
    )
    bench.begin()
    assert bench.state.food.most_rh_pct is None
