"""Samples to pieces: tare, drift, faults, capacity, pace of the samples; nothing new, nothing changed."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from dryward.core.chamber import Scale, Sensor
from dryward.core.inputs import Reading, Weigh
from dryward.core.layout import lay_out
from dryward.core.scales import take_readings, zero_doubt_g
from dryward.core.weighing import PieceState, settle
from tests.core.bench_chamber import Bench, chamber, piece
from tests.core.weigh_stand import Stand

HOOK = Scale(name="hook", device="amp", tare_g=200.0, max_g=3000.0, drift_g_per_k=0.14, tare_c=20.0)
LAYOUT = lay_out(chamber(scales=(HOOK,)))


def fed(weights: list[float], *, cell_c: float | None = None, every_s: float = 30.0, fault: str = "") -> PieceState:
    pieces = (PieceState(piece("a", 1000.0, scale="hook")),)
    for k, weight_g in enumerate(weights):
        at_s = (k + 1) * every_s
        pieces = take_readings(
            LAYOUT, pieces, (), (Reading("hook", weight_g, at_s, fault),), door_open=False, cell_c=cell_c, now=at_s
        ).pieces
    return pieces[0]


def test_the_tare_is_taken_off() -> None:
    assert fed([1190.0] * 5).weight_g == pytest.approx(990.0)


def test_the_drift_of_a_warm_cell_is_taken_off() -> None:
    """0.7 v_min in 5 K, 1 g for 10 kg (OIML R 60, class C3): 0.14 g per kelvin; 40 K are 5.6 g."""
    assert fed([1195.6] * 5, cell_c=60.0).weight_g == pytest.approx(990.0)


def test_without_a_temperature_nothing_is_corrected() -> None:
    assert fed([1195.6] * 5).weight_g == pytest.approx(995.6)


@pytest.mark.parametrize("value", [math.nan, math.inf, 3000.1, -301.0])
def test_what_no_cell_can_weigh_is_no_weight(value: float) -> None:
    assert fed([value] * 5).cell is None


def test_a_failed_reading_is_no_weight() -> None:
    assert fed([1190.0] * 5, fault="no answer").cell is None


def test_a_sample_from_the_future_is_not_believed() -> None:
    pieces = (PieceState(piece("a", 1000.0, scale="hook")),)
    after = take_readings(LAYOUT, pieces, (), (Reading("hook", 1190.0, 100.0),), door_open=False, cell_c=None, now=50.0)
    assert after.pieces is pieces


def test_a_cell_that_reports_each_second_is_heard_each_five() -> None:
    state = fed([1190.0] * 61, every_s=1.0)
    assert state.cell is not None
    assert state.cell.taken == 13


def test_without_a_new_weight_nothing_changes_at_all() -> None:
    pieces = (PieceState(piece("a", 1000.0, scale="hook")),)
    after = take_readings(LAYOUT, pieces, (), (Reading("air", 80.0, 1.0),), door_open=False, cell_c=None, now=1.0)
    assert after.pieces is pieces
    assert after.events == ()


def test_a_piece_that_is_out_is_no_longer_weighed() -> None:
    made = Stand([piece("a", 900.0, scale="hook")], [HOOK])
    made.run(600.0)
    made.pull("a")
    before = made.state("a")
    made.run(600.0)
    assert made.state("a") is before


def test_the_engine_weighs_with_drift_rack_and_questions() -> None:
    """Whole ticks: the scale's temperature is a sensor, estimates end in the state, a strange weight is answered with a question."""
    cell_c = Sensor(name="cell", role="scale-temperature", device="probe", fresh_s=600.0)
    rack = Scale(name="rack", device="frame", carries="rack", drift_g_per_k=1.0, tare_c=20.0)
    bench = Bench.of(chamber(sensors=(Sensor(name="air", role="control-air", device="top"), cell_c), scales=(rack,)))
    bench.begin(piece("a", 900.0), piece("b", 700.0))
    for k in range(300):
        readings = [("cell", 30.0), ("rack", 1610.0 - 0.01 * k)] if k % 30 == 0 else []
        bench.turn(22.0, readings=readings)
    a = bench.state.pieces[0]
    assert a.weight_g == pytest.approx(900.0, abs=3.0)
    assert a.sigma_g > 0.0
    assert bench.state.racks[0].scale == "rack"
    reply = bench.ask(Weigh(piece="a", weight_g=880.0), 22.0)
    assert "more than" not in reply.text
    reply = bench.ask(Weigh(piece="a", weight_g=910.0), 22.0)
    assert reply.accepted
    assert "30 g more than the 880 g" in reply.text


def test_a_drift_that_nobody_set_is_doubt_and_holds_done_back() -> None:
    """0.7 v_min in 5 K, v_min a 5,000th of 3,000 g: 0.084 g a kelvin, 3.36 g in 40 K."""
    unset = lay_out(chamber(scales=(replace(HOOK, drift_g_per_k=None),)))

    def done_at_g(cell_c: float) -> float:
        pieces = (PieceState(piece("a", 1000.0, scale="hook")),)
        weight_g, at_s = 1000.0, 0.0
        while pieces[0].status == "drying" and weight_g > 500.0:
            weight_g, at_s = weight_g - 0.2, at_s + 60.0
            told = take_readings(
                unset, pieces, (), (Reading("hook", 200.0 + weight_g, at_s),), door_open=False, cell_c=cell_c, now=at_s
            )
            pieces = tuple(settle(p, at_s) for p in told.pieces)
        return weight_g

    at_tare_g = done_at_g(20.0)
    assert at_tare_g == pytest.approx(piece("a", 1000.0).target_g, abs=0.3)
    assert at_tare_g - done_at_g(60.0) == pytest.approx(3.36, abs=0.25)


def test_the_doubt_of_a_zero() -> None:
    assert zero_doubt_g(HOOK, 60.0) == 0.0
    assert zero_doubt_g(replace(HOOK, drift_g_per_k=0.0), 60.0) == 0.0  # measured, and there is none
    assert zero_doubt_g(HOOK, None) == pytest.approx(0.42)
    assert zero_doubt_g(replace(HOOK, drift_g_per_k=None), 30.0) == pytest.approx(0.84)
