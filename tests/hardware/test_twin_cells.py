"""Load cells: creep, drift with their temperature, shaking."""

from __future__ import annotations

import statistics

import pytest

from dryward_hardware.twin.cells import Frame, LoadCell
from dryward_hardware.twin.model import TICK_S
from dryward_hardware.twin.options import Sensing
from dryward_hardware.twin.probes import Chance

HALF_HOUR = round(1800.0 / TICK_S)
STILL = Sensing(weight_fan_g=0.0, weight_knock_g=0.0, weight_creep_share=0.0, weight_drift_g_per_5k=0.0)


class Hook:
    def __init__(self, load_g: float) -> None:
        self.load_g = load_g

    def __call__(self) -> float:
        return self.load_g


def frame(air_share: float = 0.05) -> Frame:
    return Frame(room_c=22.0, air_c=22.0, air_share=air_share)


def cell(hook: Hook, sensing: Sensing, on: Frame, salt: int = 11) -> LoadCell:
    return LoadCell(hook, sensing=sensing, frame=on, chance=Chance(1), salt=salt)


def test_a_perfect_cell_shows_its_load() -> None:
    hook = Hook(750.0)
    assert cell(hook, STILL, frame()).shown_g(100) == 750.0


def test_creep_is_there_at_once_and_gone_within_the_half_hour_of_oiml_r_60() -> None:
    """OIML R 60: a cell is judged at 30 min; by then less than a twentieth of the creep is left to come."""
    hook = Hook(0.0)
    creeping = cell(
        hook,
        Sensing(weight_fan_g=0.0, weight_knock_g=0.0, weight_drift_g_per_5k=0.0, weight_creep_share=0.001),
        frame(),
    )
    creeping.shown_g(0)
    hook.load_g = 1000.0
    assert creeping.shown_g(1) == pytest.approx(999.0, abs=0.01)
    assert 999.94 < creeping.shown_g(2 * HALF_HOUR) <= 1000.0


def test_the_zero_drifts_with_the_cells_own_temperature_within_its_class() -> None:
    """OIML R 60, class C3: at most 0.7 v_min for 5 K; a cell that feels all of the air drifts most."""
    drifts = []
    for salt in range(40):
        warm = frame(air_share=1.0)
        wandering = cell(
            Hook(500.0),
            Sensing(weight_fan_g=0.0, weight_knock_g=0.0, weight_creep_share=0.0, weight_drift_g_per_5k=0.7),
            warm,
            salt=salt,
        )
        warm.follow(room_c=22.0, air_c=27.0, ticks=1)
        warm.follow(room_c=22.0, air_c=27.0, ticks=20 * HALF_HOUR)
        assert warm.cell_c.now() == pytest.approx(27.0, abs=0.01)
        drifts.append(wandering.shown_g(20 * HALF_HOUR) - 500.0)
    assert max(abs(drift) for drift in drifts) <= 0.7
    assert max(drifts) > 0.3
    assert min(drifts) < -0.3


def test_a_cell_outside_the_hot_air_hardly_warms() -> None:
    cool = frame(air_share=0.05)
    cool.follow(room_c=22.0, air_c=82.0, ticks=20 * HALF_HOUR)
    cool.follow(room_c=22.0, air_c=82.0, ticks=20 * HALF_HOUR)
    assert cool.cell_c.now() == pytest.approx(25.0, abs=0.2)


def test_the_fan_shakes_and_a_knock_dies_away() -> None:
    shaken = frame()
    shaken.fan = 1.0
    fanned = cell(
        Hook(500.0),
        Sensing(weight_fan_g=0.5, weight_knock_g=0.0, weight_creep_share=0.0, weight_drift_g_per_5k=0.0),
        shaken,
    )
    assert statistics.stdev(fanned.shown_g(tick) for tick in range(0, 100_000, 20)) == pytest.approx(0.5, rel=0.05)
    knocked = frame()
    struck = cell(
        Hook(500.0),
        Sensing(weight_fan_g=0.0, weight_knock_g=40.0, weight_creep_share=0.0, weight_drift_g_per_5k=0.0),
        knocked,
    )
    knocked.knocked_tick = 1000
    early = max(abs(struck.shown_g(1000 + n) - 500.0) for n in range(20))
    late = max(abs(struck.shown_g(1000 + 160 + n) - 500.0) for n in range(20))
    assert early > 10.0
    assert late == 0.0
