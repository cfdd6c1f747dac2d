"""The cool cabinet: compressor, coil, ice, humidifier, dehumidifier, and its accounts."""

from __future__ import annotations

from math import exp

import psychrolib
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dryward_hardware.ports import Hung
from dryward_hardware.twin import Twin
from dryward_hardware.twin.cold import FUSION_J_PER_KG, Cold
from dryward_hardware.twin.model import Drive
from dryward_hardware.twin.options import Cabinet
from dryward_hardware.twin.truth import Truth
from dryward_hardware.twin.vapour import Vapour

psychrolib.SetUnitSystem(psychrolib.SI)
FAN = frozenset({"fan"})
COLD = FAN | {"cooler"}
FOUR = [Hung(name=f"p{green:.0f}", green_g=green) for green in (690.0, 730.0, 770.0, 810.0)]  # invented batch


def cabinet(*, loaded: bool = False, **options: object) -> Twin:
    twin = Twin("sim", {"model": "cabinet", **options})
    if loaded:
        twin.hang(FOUR)
    return twin


def leave(twin: Twin, outputs: frozenset[str], *, from_s: float, until_s: float, poll_s: float = 5.0) -> Truth:
    now_s = from_s
    while now_s <= until_s:
        twin.poll(now_s)
        twin.want(outputs, now_s)
        now_s += poll_s
    return twin.truth()


def check_balances(truth: Truth) -> None:
    book = truth.ledger
    moved_kg = abs(book.evaporated_kg) + abs(book.lost_kg) + 1e-6
    moved_j = book.supplied_j + abs(book.lost_j) + abs(book.brought_j) + 1.0
    assert abs(book.brought_kg - book.lost_kg - book.stored_kg) <= 0.001 * moved_kg
    assert abs(book.supplied_j + book.brought_j - book.lost_j - book.stored_j) <= 0.01 * moved_j


def hold_cabinet(twin: Twin, *, days: float) -> tuple[list[float], list[float], int]:
    """Hold 13 degC and 78 %RH by simple switching, the compressor never off for less than 300 s; returns hourly air and humidity after a day, and starts."""
    on: set[str] = {"fan"}
    air_c = rh_pct = 0.0
    air, humidity, starts, stopped_s, now_s = [], [], 0, -1e9, 0.0
    while now_s < days * 86_400.0:
        shown = {s.channel: s.value for s in twin.poll(now_s).samples if s.value is not None}
        air_c, rh_pct = shown.get("sim/air", air_c), shown.get("sim/humidity", rh_pct)
        if "cooler" in on and air_c <= 13.0:
            on.discard("cooler")
            stopped_s = now_s
        elif "cooler" not in on and air_c >= 13.8 and now_s - stopped_s >= 300.0:
            on.add("cooler")
            starts += 1
        for output, low, high in (("humidifier", 76.0, 77.5), ("heater", 11.8, 12.4)):
            value = rh_pct if output == "humidifier" else air_c
            (on.add if value < low else on.discard if value > high else lambda _: None)(output)
        (on.add if rh_pct > 81.0 else on.discard if rh_pct < 79.5 else lambda _: None)("dehumidifier")
        twin.want(frozenset(on), now_s)
        if now_s > 86_400.0 and now_s % 3600.0 == 0.0:
            air.append(twin.truth().air_c)
            humidity.append(twin.truth().rh_pct)
        now_s += 10.0
    return air, humidity, starts


def test_a_cool_cabinet_can_be_held_at_13_degrees_and_78_per_cent_by_day_and_night() -> None:
    twin = cabinet(loaded=True, room={"air_c": 22.0, "day_swing_k": 4.0})
    air, humidity, starts = hold_cabinet(twin, days=3.0)
    truth = twin.truth()
    assert sum(air) / len(air) == pytest.approx(13.0, abs=1.0)
    assert sum(humidity) / len(humidity) == pytest.approx(78.0, abs=4.0)
    assert starts > 50
    assert truth.condition.stalled_starts == 0
    assert all(1.0 < piece.loss_pct < 12.0 for piece in truth.pieces)
    check_balances(truth)


def test_the_coil_dries_the_air_below_its_own_dew_point_and_carries_the_water() -> None:
    truth = leave(cabinet(room={"air_c": 22.0, "rh_pct": 70.0}), COLD, from_s=0.0, until_s=1800.0)
    assert truth.air_c < 12.0
    assert psychrolib.GetTDewPointFromRelHum(truth.air_c, truth.rh_pct / 100.0) < truth.air_c - 3.0
    check_balances(truth)


def test_a_coil_below_freezing_ices_up_and_thaws_when_it_rests() -> None:
    twin = cabinet(loaded=True, room={"air_c": 10.0, "rh_pct": 80.0})
    iced = leave(twin, COLD, from_s=0.0, until_s=10_000.0)
    assert iced.air_c < 6.0
    assert iced.condition.ice_g > 5.0
    check_balances(iced)
    rested = leave(twin, FAN | {"heater"}, from_s=10_005.0, until_s=20_000.0)
    assert rested.condition.ice_g == 0.0
    check_balances(rested)


def test_a_compressor_started_against_pressure_stalls_until_it_is_switched_off_long_enough() -> None:
    twin = cabinet()
    leave(twin, COLD, from_s=0.0, until_s=600.0)
    leave(twin, FAN, from_s=605.0, until_s=660.0)
    stalled = leave(twin, COLD, from_s=665.0, until_s=1200.0)
    assert stalled.condition.stalled_starts == 1
    warmed = leave(twin, COLD, from_s=1205.0, until_s=1800.0)
    assert warmed.air_c > stalled.air_c
    leave(twin, FAN, from_s=1805.0, until_s=1860.0)
    cooled = leave(twin, COLD, from_s=1865.0, until_s=2400.0)
    assert cooled.condition.stalled_starts == 1
    assert cooled.air_c < warmed.air_c


def test_the_cooling_builds_up_with_its_lag_and_warms_nothing() -> None:
    cold = Cold(Cabinet())
    cold.switch(Drive(cooler=1.0), 0.0, 12.0)
    taken = []
    for _ in range(60):
        cold.face(5.0, coil_c=0.0, vapour=Vapour(air_kg=0.3, ratio=0.001))
        before = cold.lost_j
        cold.passed(5.0, ratio_s=0.005, coil_c=0.0, air_c=10.0, room_c=20.0, power=1.0)
        taken.append((cold.lost_j - before) / 5.0)
    assert taken[0] < 10.0
    assert taken[11] == pytest.approx(120.0 * (1 - exp(-1.0)), rel=0.05)  # one lag of 60 s: 63 %
    assert taken[-1] == pytest.approx(120.0, rel=0.01)


def test_freezing_and_thawing_give_and_take_the_heat_of_fusion() -> None:
    """Source: heat of fusion of water 333.6 kJ/kg (IAPWS)."""
    cold = Cold(Cabinet(coil_j_k=1500.0, coil_holds_g=1000.0))
    cold.coil.kg = 0.010
    colder = cold.freeze(-1.0)
    assert colder == 0.0
    assert cold.ice_kg == pytest.approx(1500.0 / FUSION_J_PER_KG)
    assert cold.freeze(-5.0) == pytest.approx(-5.0 + (0.010 - 1500.0 / FUSION_J_PER_KG) * FUSION_J_PER_KG / 1500.0)
    assert cold.ice_kg == pytest.approx(0.010)
    assert cold.freeze(10.0) == pytest.approx(10.0 - 0.010 * FUSION_J_PER_KG / 1500.0)
    assert cold.ice_kg == pytest.approx(0.0, abs=1e-15)


def test_what_the_coil_cannot_hold_drains() -> None:
    cold = Cold(Cabinet(coil_holds_g=60.0))
    cold.coil.kg = 0.100
    cold.freeze(5.0)
    assert cold.coil.kg == pytest.approx(0.060)
    assert cold.lost_kg == pytest.approx(0.040)


def test_ice_takes_heat_transfer_from_the_coil() -> None:
    cold = Cold(Cabinet())
    assert cold.clear_share == 1.0
    cold.ice_kg = 0.5
    assert cold.clear_share == pytest.approx(0.5)


def test_humidifier_and_dehumidifier_move_the_humidity_and_their_water_is_booked() -> None:
    twin = cabinet()
    before = twin.truth().rh_pct
    moist = leave(twin, FAN | {"humidifier"}, from_s=0.0, until_s=900.0)
    assert moist.rh_pct > before + 15.0
    assert moist.ledger.brought_kg == pytest.approx(0.150 * 0.25, rel=0.01)
    dried = leave(twin, FAN | {"dehumidifier"}, from_s=905.0, until_s=6000.0)
    assert dried.rh_pct < moist.rh_pct - 15.0
    check_balances(dried)


def test_a_humidifier_left_on_wets_the_walls_but_no_air_is_above_saturation() -> None:
    twin = cabinet(room={"air_c": 16.0})
    truth = leave(twin, COLD | {"humidifier"}, from_s=0.0, until_s=7200.0)
    assert truth.rh_pct <= 100.0
    check_balances(truth)
    soaked = leave(twin, FAN | {"humidifier"}, from_s=7205.0, until_s=20_000.0)
    assert soaked.rh_pct > 95.0
    assert soaked.condition.wall_film_g > 1.0
    check_balances(soaked)


def test_faults_of_the_cold_side() -> None:
    dead = cabinet(faults=[{"at_s": 0.0, "kind": "cooler-dead"}, {"at_s": 0.0, "kind": "humidifier-dead"}])
    assert leave(dead, COLD | {"humidifier"}, from_s=0.0, until_s=1800.0).air_c > 21.9
    assert dead.truth().ledger.brought_kg == 0.0
    welded = cabinet(faults=[{"at_s": 0.0, "kind": "cooler-welded"}])
    assert leave(welded, FAN, from_s=0.0, until_s=1800.0).air_c < 15.0


def test_energy_counts_the_compressor_but_its_heat_stays_outside() -> None:
    truth = leave(cabinet(), COLD, from_s=0.0, until_s=3600.0)
    assert truth.energy_j == pytest.approx((70.0 + 4.0) * 3600.0, rel=0.01)
    assert truth.ledger.supplied_j == pytest.approx(4.0 * 3600.0, rel=0.01)


def test_how_often_the_cabinet_is_polled_hardly_matters() -> None:
    """Coil and compressor are stepped at most every 5 s: polls of 1 s and 5 s agree within 0.1 K and 1 %RH."""
    truths = []
    for poll_s in (1.0, 5.0):
        twin, now_s = cabinet(loaded=True), 0.0
        while now_s <= 7200.0:
            twin.poll(now_s)
            if now_s % 60.0 == 0.0:
                twin.want(COLD if now_s % 900.0 < 420.0 else FAN, now_s)
            now_s += poll_s
        truths.append(twin.truth())
    often, seldom = truths
    assert often.air_c == pytest.approx(seldom.air_c, abs=0.1)
    assert often.rh_pct == pytest.approx(seldom.rh_pct, abs=1.0)
    assert often.pieces[0].mass_g == pytest.approx(seldom.pieces[0].mass_g, abs=0.1)


@settings(deadline=None, max_examples=25)
@given(
    plan=st.lists(
        st.tuples(
            st.sets(st.sampled_from(["cooler", "heater", "fan", "vent", "humidifier", "dehumidifier"])),
            st.sampled_from([5.0, 60.0, 900.0]),
            st.booleans(),
        ),
        min_size=1,
        max_size=8,
    ),
    room_c=st.floats(-5.0, 35.0),
    rh_pct=st.floats(5.0, 99.0),
)
def test_whatever_is_switched_the_cabinet_stays_physical(
    plan: list[tuple[set[str], float, bool]], room_c: float, rh_pct: float
) -> None:
    twin = cabinet(loaded=True, room={"air_c": room_c, "rh_pct": rh_pct})
    now_s = 0.0
    for outputs, length_s, door in plan:
        twin.want(frozenset(outputs), now_s)
        (twin.open_door if door else twin.close_door)()
        now_s += length_s
        twin.poll(now_s)
        truth = twin.truth()
        assert 0.0 <= truth.rh_pct <= 100.0
        assert -40.0 < truth.air_c < 90.0
        assert truth.condition.ice_g >= 0.0
        assert truth.condition.wall_film_g >= 0.0
        assert all(0.0 <= piece.moisture <= 3.2 for piece in truth.pieces)
    check_balances(twin.truth())


def test_a_small_cabinet_whose_humidifier_is_too_strong_rains_and_never_has_less_than_no_water() -> None:
    twin = cabinet(cabinet={"volume_m3": 0.031})
    lowest, now_s = 100.0, 0.0
    while now_s < 7200.0:
        works = {"vent", "humidifier", "dehumidifier"} if now_s < 3600.0 else {"vent", "humidifier"}
        twin.want(FAN | works, now_s)
        now_s += 5.0
        twin.poll(now_s)
        lowest = min(lowest, twin.truth().rh_pct)
    assert lowest > 40.0, "the room has 50 %RH at 22 degC, and the cabinet hardly more degrees"
    check_balances(twin.truth())
