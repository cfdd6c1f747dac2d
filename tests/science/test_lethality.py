"""Heat that kills: published table and worked example, scipy, and the conditions under which nothing counts."""

from __future__ import annotations

import math
from collections.abc import Sequence

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import trapezoid

from dryward.science.figures import celsius_mix_up
from dryward.science.lethality import (
    ORGANISMS,
    SECONDS_7,
    Heat,
    Kinetics,
    advance,
    celsius,
    core_mistake,
    fahrenheit,
    probe_is_back,
    time_needed_s,
)

APPENDIX_A = {
    130: (6720, 7260), 131: (89 * 60, 97 * 60), 132: (71 * 60, 77 * 60), 133: (56 * 60, 62 * 60), 134: (45 * 60, 47 * 60), 135: (36 * 60, 37 * 60),
    136: (28 * 60, 32 * 60), 137: (23 * 60, 24 * 60), 138: (18 * 60, 19 * 60), 139: (15 * 60, 15 * 60), 140: (12 * 60, 12 * 60), 141: (9 * 60, 10 * 60),
    142: (8 * 60, 8 * 60), 143: (6 * 60, 6 * 60), 144: (5 * 60, 5 * 60), 145: (4 * 60, 4 * 60), 146: (169, 182), 147: (134, 144), 148: (107, 115), 149: (85, 91),
    150: (67, 72), 151: (54, 58), 152: (43, 46), 153: (34, 37), 154: (27, 29), 155: (22, 23), 156: (17, 19), 157: (14, 15), 158: (0, 0), 160: (0, 0),
}  # fmt: skip
"""USDA FSIS Appendix A, minimum time at the core, meat: degF -> seconds for 6.5 and 7 logs (the 7-log column confirmed in another government document)."""


def held(
    core_c: float, seconds: float, *, step_s: float = 10.0, moist: bool = True, kinetics: Kinetics | None = None
) -> Heat:
    heat = Heat()
    at_s = 0.0
    while True:
        heat = advance(heat, core_c=core_c, moist=moist, kinetics=kinetics, now=at_s)
        if at_s >= seconds:
            return heat
        at_s = min(seconds, at_s + step_s)


def recorded(
    readings: Sequence[tuple[float, float]],
    *,
    moist: bool = True,
    kinetics: Kinetics | None = None,
    judge_rise: bool = False,
) -> Heat:
    heat = Heat()
    for at_s, core_c in readings:
        heat = advance(heat, core_c=core_c, moist=moist, kinetics=kinetics, judge_rise=judge_rise, now=at_s)
    return heat


@pytest.mark.parametrize(("core_f", "times"), APPENDIX_A.items())
def test_every_row_of_the_table(core_f: int, times: tuple[int, int]) -> None:
    assert time_needed_s(celsius(core_f)) == pytest.approx(times[0])
    assert time_needed_s(celsius(core_f), seconds=SECONDS_7) == pytest.approx(times[1])


@pytest.mark.parametrize(("core_f", "times"), [row for row in APPENDIX_A.items() if row[0] < 158])
def test_a_row_is_met_at_its_time_and_not_a_little_before(core_f: int, times: tuple[int, int]) -> None:
    core_c = celsius(core_f)
    assert held(core_c, times[0]).meets_6_5
    assert not held(core_c, 0.99 * times[0]).meets_6_5
    assert held(core_c, times[1]).meets_7
    assert not held(core_c, 0.99 * times[1]).meets_7


@pytest.mark.parametrize("core_f", [row for row in APPENDIX_A if row < 158])
def test_a_probe_that_reads_in_tenths_meets_the_row_it_shows(core_f: int) -> None:
    """The degC column of the table is rounded to 0.1."""
    assert held(round(celsius(core_f), 1), APPENDIX_A[core_f][0]).meets_6_5


@pytest.mark.parametrize(("core_f", "times"), [row for row in APPENDIX_A.items() if row[0] < 158])
def test_the_6_5_log_column_is_the_line(core_f: int, times: tuple[int, int]) -> None:
    """112 min x 10^(-(F - 130)/10), z = 10 degF: each published time lies within its own last digit of it, mostly rounded up (computed)."""
    line = 6720.0 * 10.0 ** (-(core_f - 130) / 10.0)
    digit_s = 60.0 if times[0] >= 240 else 1.0
    assert -0.25 * digit_s <= times[0] - line < digit_s
    assert held(celsius(core_f), line).logs == pytest.approx(6.5)


def test_from_158_degf_on_two_readings_meet_it_and_one_alone_does_not() -> None:
    assert recorded([(0, 70.0), (1, 70.0)]).meets_7
    assert not recorded([(0, 69.0), (1, 70.2), (2, 69.0)]).meets_6_5


def test_below_the_table_no_time_meets_a_minimum() -> None:
    assert time_needed_s(54.3) == math.inf
    assert held(54.3, 40_000.0).share_6_5 == 0.0


WORKED_F = [40, 64, 82, 97, 113, 128, 138, 142, 145, 148, 145, 140, 137, 136, 135, 134]
WORKED_MIN = [0, 0, 0, 0, 0, 0.002, 0.019, 0.074, 0.193, 0.430, 0.667, 0.771, 0.808, 0.831, 0.849, 0.863]


def test_the_published_worked_example() -> None:
    """Process-lethality sheet: Tref 150 degF, z 10 degF, D 0.172 min, every 0.5 min, trapezoid (transcribed and recomputed)."""
    kinetics = Kinetics(ref_c=celsius(150.0), z_c=10.0 / 1.8, d_min=0.172)
    for last in range(1, len(WORKED_F)):
        heat = recorded(
            [(30.0 * place, celsius(core_f)) for place, core_f in enumerate(WORKED_F[: last + 1])], kinetics=kinetics
        )
        assert heat.f_min == pytest.approx(WORKED_MIN[last], abs=0.0006)
    assert heat.doubt == ""


@pytest.mark.parametrize(
    ("key", "ref_f", "z_f", "d_min"),
    [("salmonella-patty", 150.0, 10.0, 0.172), ("listeria-beef", 145.0, 9.3, 0.6), ("ecoli-pork", 149.0, 11.7, 0.30)],
)
def test_published_organisms(key: str, ref_f: float, z_f: float, d_min: float) -> None:
    """As transcribed from the process-lethality sheet's list."""
    kinetics = ORGANISMS[key]
    assert fahrenheit(kinetics.ref_c) == pytest.approx(ref_f)
    assert kinetics.z_c * 1.8 == pytest.approx(z_f)
    assert kinetics.d_min == d_min
    assert held(kinetics.ref_c, 60.0 * d_min, kinetics=kinetics, step_s=1.0).f_min == pytest.approx(d_min)


def test_six_logs_of_listeria_at_70_degc_in_two_minutes() -> None:
    """A government document: 6 D of Listeria is 2 min at 70 degC. z 7.5 K from memory: at 70 degC it does not matter."""
    kinetics = Kinetics(ref_c=70.0, z_c=7.5, d_min=2.0 / 6.0)
    assert held(70.0, 120.0, kinetics=kinetics).f_min / (2.0 / 6.0) == pytest.approx(6.0)


@given(
    st.lists(st.tuples(st.floats(1.0, 299.0), st.floats(-1.0, 1.0)), min_size=1, max_size=60),
    st.floats(50.0, 72.0),
    st.floats(3.0, 12.0),
)
def test_the_integral_is_that_of_scipy(steps: list[tuple[float, float]], start_c: float, z_c: float) -> None:
    """scipy.integrate.trapezoid over uneven times; changes no faster than meat makes them."""
    times, temperatures = [0.0], [start_c]
    for dt_s, change in steps:
        times.append(times[-1] + dt_s)
        temperatures.append(min(75.0, max(40.0, temperatures[-1] + change)))
    kinetics = Kinetics(ref_c=65.0, z_c=z_c)
    heat = recorded(list(zip(times, temperatures, strict=True)), kinetics=kinetics)
    expected = trapezoid([10.0 ** ((t - 65.0) / z_c) for t in temperatures], [t / 60.0 for t in times])
    assert heat.f_min == pytest.approx(float(expected), rel=1e-9)
    logs = trapezoid(
        [6.5 * 10.0 ** ((fahrenheit(t) - 130.0) / 10.0) / 112.0 for t in temperatures], [t / 60.0 for t in times]
    )
    assert heat.logs == pytest.approx(float(logs), rel=1e-9)


readings = st.lists(
    st.tuples(st.floats(0.0, 400.0), st.one_of(st.none(), st.floats(-10.0, 100.0)), st.booleans()), max_size=40
)


@given(readings)
@settings(max_examples=300)
def test_lethality_never_decreases_and_never_counts_without_its_conditions(
    steps: list[tuple[float, float | None, bool]],
) -> None:
    heat, at_s = Heat(), 0.0
    for dt_s, core_c, moist in steps:
        at_s += dt_s
        after = advance(heat, core_c=core_c, moist=moist, kinetics=ORGANISMS["listeria-beef"], now=at_s)
        gained = [
            after.logs - heat.logs,
            after.share_6_5 - heat.share_6_5,
            after.share_7 - heat.share_7,
            after.f_min - heat.f_min,
        ]
        assert all(gain >= 0.0 for gain in gained)
        if (
            core_c is None
            or not moist
            or not heat.moist
            or heat.at_s is None
            or at_s - heat.at_s > 300.0
            or after.doubt
        ):
            assert gained == [0.0] * 4
        heat = after


def test_dry_air_credits_nothing() -> None:
    assert held(65.0, 3600.0, moist=False) == Heat(
        hottest_c=65.0, at_s=3600.0, core_c=65.0, ceiling_c=65.0, floor_c=65.0
    )


def test_a_gap_credits_nothing_and_a_reversed_time_is_ignored() -> None:
    before = held(60.0, 300.0)
    after = advance(before, core_c=60.0, moist=True, now=300.0 + 301.0)
    assert after.logs == before.logs
    assert advance(after, core_c=60.0, moist=True, now=500.0) is after


def test_a_probe_pulled_out_stops_the_counting_until_somebody_puts_it_back() -> None:
    """A probe of 80 s time constant in a room of 20 degC: from memory."""
    readings = [(10.0 * place, 65.0) for place in range(60)]
    readings += [(600.0 + 10.0 * place, 20.0 + 45.0 * math.exp(-place / 8.0)) for place in range(60)]
    heat = recorded(readings)
    assert "pulled out" in heat.doubt
    lying_in_hot_air = recorded([*readings, *((1200.0 + 10.0 * place, 75.0) for place in range(60))])
    assert lying_in_hot_air.logs == heat.logs
    back = probe_is_back(lying_in_hot_air)
    again = advance(advance(back, core_c=60.0, moist=True, now=2000.0), core_c=60.0, moist=True, now=2010.0)
    assert again.logs > heat.logs


def test_a_probe_in_hot_air_is_known_by_its_rise() -> None:
    readings = [(10.0 * place, 30.0 + 50.0 * (1.0 - math.exp(-place / 8.0))) for place in range(60)]
    assert "faster than meat can warm" in recorded(readings, judge_rise=True).doubt
    assert recorded(readings, judge_rise=True).logs < 0.1


def test_meat_that_warms_and_cools_as_fast_as_it_can_is_believed() -> None:
    """Heat conduction in 40 mm of meat: about 2 K/min at the core with 60 K around it (computed); noise of 0.5 K on it."""
    warming = [(5.0 * place, min(70.0, 5.0 + place / 6.0) + 0.5 * (-1) ** place) for place in range(600)]
    cooling = [(3000.0 + 5.0 * place, max(4.0, 70.0 - place / 6.0) + 0.5 * (-1) ** place) for place in range(600)]
    assert recorded([*warming, *cooling], judge_rise=True).doubt == ""


def test_putting_a_probe_into_cold_meat_is_no_fault() -> None:
    assert recorded([(0, 22.0), (1, 21.0), (5, 12.0), (10, 6.0), (20, 4.0)], judge_rise=True).doubt == ""


@given(st.floats(58.0, 75.0))
def test_a_core_in_fahrenheit_is_caught(core_c: float) -> None:
    """Every core that is hot enough to matter lies above what wet meat can be, once it is read as degF."""
    core_f = fahrenheit(core_c)
    said = core_mistake(core_f)
    assert said is not None
    assert celsius_mix_up(core_f, high_c=105.0) in said
    assert core_mistake(core_c) is None


def test_one_hot_reading_written_twice_does_not_meet_the_minimum() -> None:
    heat = advance(Heat(), core_c=71.0, moist=True, now=0.0)
    assert not advance(heat, core_c=71.0, moist=True, now=0.0).meets_6_5
    assert advance(heat, core_c=71.0, moist=True, now=1.0).meets_6_5
