"""When a piece will be done: right on published curves, honest about its doubt, never where the curve does not lead there."""

from __future__ import annotations

import csv
import math
import time
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dryward.science.curves import crank
from dryward.science.forecast import PieceLog, forecast, learn, mistakes
from dryward.science.pace import AirAt

DATA = Path(__file__).parent.parent / "data"
HOUR_S = 3600.0


def lewis(hours: float, *, green_g: float = 1000.0, floor_g: float = 550.0, rate: float = 0.03) -> float:
    return floor_g + (green_g - floor_g) * math.exp(-rate * hours)


def log_of(curve, hours: list[float], target_g: float, piece: str = "a", airs: tuple[AirAt, ...] = ()) -> PieceLog:  # type: ignore[no-untyped-def]
    rows = [(HOUR_S * h, curve(h)) for h in hours]
    return PieceLog(piece=piece, green_g=curve(0.0), target_g=target_g, weighings=rows, airs=airs)


def test_a_lewis_curve_is_followed_to_its_target() -> None:
    """Exact finish of an exponential: t = -ln((target - floor) / (green - floor)) / rate."""
    exact_s = -math.log((650.0 - 550.0) / 450.0) / 0.03 * HOUR_S
    (found,) = forecast([log_of(lewis, [0, 4, 8, 12, 16, 20, 24, 28, 32, 36], 650.0)])
    assert found.finish_s is not None
    assert found.finish_lo_s is not None
    assert found.finish_s == pytest.approx(exact_s, rel=0.12)
    assert found.finish_lo_s <= exact_s <= (found.finish_hi_s or math.inf)


def test_a_slab_by_crank_is_forecast_inside_its_interval() -> None:
    """Crank's series for a slab without surface resistance."""

    def slab(hours: float) -> float:
        return 400.0 + 600.0 * crank(0.004 * hours, shape="slab")

    exact_h = next(h / 10.0 for h in range(10_000) if slab(h / 10.0) <= 650.0)
    (found,) = forecast([log_of(slab, [2.0 * i for i in range(int(exact_h / 4.0) + 1)], 650.0)])
    assert found.finish_lo_s is not None
    assert found.finish_lo_s <= exact_h * HOUR_S <= (found.finish_hi_s or math.inf)


def test_a_target_below_the_floor_is_never_reached() -> None:
    (found,) = forecast([log_of(lewis, [float(h) for h in range(0, 160, 8)], 500.0)])
    assert not found.reached
    assert found.finish_s is None


def test_a_reached_target_names_the_moment_it_was_crossed() -> None:
    (found,) = forecast(
        [PieceLog(piece="a", green_g=1000.0, target_g=650.0, weighings=[(0.0, 1000.0), (100.0, 700.0), (200.0, 600.0)])]
    )
    assert found.reached
    assert (found.finish_s, found.finish_lo_s, found.finish_hi_s) == (150.0, 150.0, 150.0)


def test_milder_air_to_come_makes_it_later() -> None:
    airs = (AirAt(t_s=0.0, air_c=80.0, rh_pct=10.0), AirAt(t_s=24 * HOUR_S, air_c=80.0, rh_pct=10.0))
    log = log_of(lewis, [0, 6, 12, 18, 24], 650.0, airs=airs)
    (same,) = forecast([log], [AirAt(t_s=24 * HOUR_S, air_c=80.0, rh_pct=10.0)])
    (milder,) = forecast([log], [AirAt(t_s=24 * HOUR_S, air_c=55.0, rh_pct=25.0)])
    assert same.finish_s is not None
    assert milder.finish_s is None or milder.finish_s > same.finish_s + 4 * HOUR_S


def test_the_leaves_are_forecast_better_than_by_the_last_rate() -> None:
    """Data: R package pvldcurve 1.2.6 (MIT, Anna Raesch); at half of each leaf's way to 15 %."""
    rows: dict[str, list[tuple[float, float]]] = {}
    with (DATA / "leaf_weighings.csv").open() as file:
        for row in csv.DictReader(file):
            rows.setdefault(f"{row['treatment']}-{row['sample']}", []).append(
                (float(row["t_min"]) * 60.0, float(row["fresh.weight"]))
            )
    ours, last = [], []
    for name, log in rows.items():
        green_g, target_g = log[0][1], 0.85 * log[0][1]
        (t0, w0), (t1, w1) = next(pair for pair in pairwise(log) if pair[1][1] <= target_g)
        finish_s = t0 + (t1 - t0) * (w0 - target_g) / (w0 - w1)
        seen = [row for row in log if row[0] <= log[0][0] + 0.55 * (finish_s - log[0][0])]
        if len(seen) < 3:
            continue
        (found,) = forecast([PieceLog(piece=name, green_g=green_g, target_g=target_g, weighings=seen)])
        remained = finish_s - seen[-1][0]
        (ta, wa), (tb, wb) = seen[-2:]
        ours.append(abs((found.finish_s or math.inf) - finish_s) / remained)
        last.append(abs(tb + (wb - target_g) * (tb - ta) / (wa - wb) - finish_s) / remained)
    assert len(ours) >= 8
    assert sorted(ours)[len(ours) // 2] < sorted(last)[len(last) // 2]


def test_past_runs_of_the_chamber_make_the_first_forecast_surer() -> None:
    airs = (AirAt(t_s=0.0, air_c=70.0, rh_pct=10.0),)
    past = learn([log_of(lewis, [float(h) for h in range(0, 52, 4)], 650.0, piece=str(i), airs=airs) for i in range(3)])
    assert past is not None
    young = log_of(lewis, [0, 4, 8], 650.0, airs=airs)
    (alone,), (told,) = forecast([young]), forecast([young], past=past)
    assert told.finish_lo_s is not None
    assert told.finish_hi_s is not None
    assert alone.finish_lo_s is not None
    assert told.finish_s is not None
    assert alone.finish_s is not None
    last_s, exact_s = 8.0 * HOUR_S, -math.log(100.0 / 450.0) / 0.03 * HOUR_S
    assert abs(told.finish_s - exact_s) < 0.5 * abs(alone.finish_s - exact_s)
    spread = (told.finish_hi_s - last_s) / (told.finish_lo_s - last_s)
    assert spread < ((alone.finish_hi_s or math.inf) - last_s) / (alone.finish_lo_s - last_s)


@pytest.mark.parametrize(
    ("log", "word"),
    [
        (PieceLog(piece="a", green_g=0.0, target_g=650.0, weighings=[(0.0, 1.0), (1.0, 1.0)]), "green weight"),
        (PieceLog(piece="a", green_g=1000.0, target_g=1200.0, weighings=[(0.0, 1.0), (1.0, 1.0)]), "target"),
        (PieceLog(piece="a", green_g=1000.0, target_g=650.0, weighings=[(0.0, 1000.0)]), "needs 2"),
        (PieceLog(piece="a", green_g=1000.0, target_g=650.0, weighings=[(5.0, 1000.0), (5.0, 900.0)]), "one time"),
        (PieceLog(piece="a", green_g=1000.0, target_g=650.0, weighings=[(0.0, 1000.0), (1.0, 1200.0)]), "green weight"),
        (
            PieceLog(piece="a", green_g=1000.0, target_g=650.0, weighings=[(0.0, 900.0), (1.0, 700.0), (2.0, 900.0)]),
            "does not gain",
        ),
    ],
)
def test_what_cannot_be_forecast_is_named(log: PieceLog, word: str) -> None:
    assert word in mistakes(log)[0]
    with pytest.raises(ValueError, match=word):
        forecast([log])


@settings(max_examples=15)
@given(rate=st.floats(0.005, 0.2), target=st.floats(0.6, 0.95), count=st.integers(2, 12))
def test_whatever_is_weighed_the_interval_is_in_order(rate: float, target: float, count: int) -> None:
    def curve(hours: float) -> float:
        return lewis(hours, rate=rate)

    (found,) = forecast([log_of(curve, [float(3 * h) for h in range(count)], 1000.0 * target)])
    times = [t for t in (found.finish_lo_s, found.finish_s, found.finish_hi_s) if t is not None]
    assert times == sorted(times)
    if not found.reached and found.finish_lo_s is not None:
        assert found.finish_lo_s >= 3 * (count - 1) * HOUR_S


def test_ten_times_the_weighings_cost_no_more_than_ten_times() -> None:
    def spent(count: int) -> float:
        log = log_of(lewis, [36.0 * i / count for i in range(count)], 650.0)
        began = time.process_time()
        forecast([log])
        return time.process_time() - began

    spent(100)
    assert spent(10_000) <= 10.0 * spent(1_000)
