"""The simulated dryer: its balances, its warming and cooling, and the batch that every butcher knows."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dryward_hardware.ports import Hung
from dryward_hardware.twin import Twin
from dryward_hardware.twin.truth import Truth

GREEN_G = {"shoulder": 690.0, "loin": 730.0, "neck": 770.0, "round": 810.0}  # invented batch, about 750 g each
HOT = frozenset({"heater", "fan"})
FAN = frozenset({"fan"})


def hung(thickness_mm: float | None = None) -> list[Hung]:
    return [Hung(name=name, green_g=green, thickness_mm=thickness_mm, channel=name) for name, green in GREEN_G.items()]


def hold(
    twin: Twin, *, air_c: float, from_s: float, until_s: float, poll_s: float = 5.0, others: frozenset[str] = FAN
) -> None:
    """Hold the air by simple switching, half a kelvin each way."""
    heating, now_s = False, from_s
    while now_s < until_s:
        for sample in twin.poll(now_s).samples:
            if sample.channel == "sim/air" and sample.value is not None:
                heating = sample.value < air_c + (0.5 if heating else -0.5)
        twin.want(others | {"heater"} if heating else others, now_s)
        now_s += poll_s


def check_balances(truth: Truth) -> None:
    """Mass closes to 0.1 % of the water that moved, energy to 1 % of what was supplied: the goals set for the twin."""
    book = truth.ledger
    assert abs(book.brought_kg - book.lost_kg - book.stored_kg) <= 0.001 * book.evaporated_kg
    assert abs(book.supplied_j + book.brought_j - book.lost_j - book.stored_j) <= 0.01 * book.supplied_j


def test_the_common_batch_is_done_in_78_hours_give_or_take_30_per_cent() -> None:
    """Common practice, no source: four pieces of about 750 g, 80 degC for a day, then 70 degC, lose 35 % in about 78 h."""
    twin = Twin("sim", {})
    twin.hang(hung())
    done_h: dict[str, float] = {}
    for hour in range(2, 112, 2):
        hold(twin, air_c=80.0 if hour <= 24 else 70.0, from_s=(hour - 2) * 3600.0, until_s=hour * 3600.0, poll_s=20.0)
        for piece in twin.truth().pieces:
            if piece.loss_pct >= 35.0:
                done_h.setdefault(piece.name, float(hour))
    assert 0.7 * 78.0 <= min(done_h.values()) <= max(done_h.values()) <= 1.3 * 78.0
    assert list(done_h) == list(GREEN_G)  # the lighter, the sooner
    assert len(set(done_h.values())) == 4
    check_balances(twin.truth())


def test_air_reaches_80_degrees_within_an_hour_and_a_half_while_the_meat_stays_near_the_wet_bulb() -> None:
    twin = Twin("sim", {})
    twin.hang(hung())
    hold(twin, air_c=80.0, from_s=0.0, until_s=5400.0)
    truth = twin.truth()
    assert truth.air_c == pytest.approx(80.0, abs=8.0)
    assert all(30.0 < piece.surface_c < 70.0 and piece.core_c < piece.surface_c for piece in truth.pieces)
    assert 0.2 < truth.energy_j / 3.6e6 < 1.4  # kWh: at most what 915 W give in 1.5 h
    check_balances(truth)


def test_an_empty_dryer_left_at_full_power_settles_where_its_losses_are_its_power() -> None:
    """Steady state by hand: (heater + fan) / (walls in series with the room + exchanged air)."""
    twin = Twin("sim", {"room": {"air_c": 20.0}})
    for now_s in range(0, 60_000, 60):
        twin.poll(float(now_s))
        twin.want(HOT, float(now_s))
    dryer = twin.options.dryer
    flow = dryer.leak_m3_h * 1.19 / 3600.0 * 1019.0  # W/K, cp of air at 50 %RH and 20 degC: 1006 + 1860 x 0.0072
    walls = 1.0 / (1.0 / dryer.air_wall_w_k + 1.0 / dryer.wall_room_w_k)
    assert twin.truth().air_c - 20.0 == pytest.approx((dryer.heater_w + dryer.fan_w) / (flow + walls), rel=0.005)


def test_with_the_energy_off_everything_cools_to_the_room() -> None:
    twin = Twin("sim", {"start_c": 70.0, "meat": {"diffusivity_m2_s": 1e-12}})
    twin.hang(hung())
    for now_s in range(0, 200_000, 60):
        twin.poll(float(now_s))
    truth = twin.truth()
    assert truth.air_c == pytest.approx(22.0, abs=0.5)
    assert truth.condition.wall_c == pytest.approx(22.0, abs=0.5)
    assert all(piece.core_c == pytest.approx(22.0, abs=1.0) for piece in truth.pieces)
    assert truth.energy_j == 0.0


def test_how_often_it_is_polled_changes_nothing_real() -> None:
    """Polls of 1 s and of 5 s with the same switching: air within 0.02 K, weights within 0.02 g."""
    truths = []
    for poll_s in (1.0, 5.0):
        twin = Twin("sim", {})
        twin.hang(hung())
        now_s = 0.0
        while now_s <= 14_400.0:
            twin.poll(now_s)
            if now_s % 60.0 == 0.0:
                twin.want(HOT if now_s % 180.0 < 90.0 else FAN, now_s)
            now_s += poll_s
        truths.append(twin.truth())
    often, seldom = truths
    assert often.air_c == pytest.approx(seldom.air_c, abs=0.02)
    assert often.rh_pct == pytest.approx(seldom.rh_pct, abs=0.02)
    for one, other in zip(often.pieces, seldom.pieces, strict=True):
        assert one.mass_g == pytest.approx(other.mass_g, abs=0.02)
        assert one.core_c == pytest.approx(other.core_c, abs=0.02)


def test_an_open_vent_dries_the_air_and_a_moist_room_makes_it_moist() -> None:
    found = {}
    for name, outputs, room in (("shut", FAN, 50.0), ("vent", FAN | {"vent"}, 50.0), ("moist room", FAN, 95.0)):
        twin = Twin("sim", {"room": {"rh_pct": room}})
        twin.hang(hung())
        hold(twin, air_c=60.0, from_s=0.0, until_s=7200.0, others=outputs)
        found[name] = twin.truth().rh_pct
        check_balances(twin.truth())
    assert found["vent"] < found["shut"] < found["moist room"]


def test_pieces_without_a_fan_dry_more_slowly() -> None:
    lost = []
    for outputs in (FAN, frozenset[str]()):
        twin = Twin("sim", {"dryer": {"limit_share": 0.0}})
        twin.hang(hung())
        hold(twin, air_c=60.0, from_s=0.0, until_s=10_800.0, others=outputs)
        lost.append(twin.truth().evaporated_g)
        check_balances(twin.truth())
    assert lost[1] < 0.7 * lost[0]


def test_meat_hung_in_a_cold_tight_chamber_wets_its_walls_and_the_balance_still_closes() -> None:
    twin = Twin(
        "sim",
        {
            "start_c": 5.0,
            "meat": {"start_c": 35.0},
            "dryer": {"leak_m3_h": 0.05, "wall_j_k": 200_000.0},
            "room": {"air_c": 5.0},
        },
    )
    twin.hang(hung())
    for now_s in range(0, 7200, 5):
        twin.poll(float(now_s))
        twin.want(FAN, float(now_s))
    truth = twin.truth()
    assert truth.rh_pct > 70.0
    assert truth.ledger.evaporated_kg > 5 * (
        truth.ledger.lost_kg + 0.12 * 1.1 * 0.02
    )  # more than the air can hold or lose
    assert (
        abs(truth.ledger.brought_kg - truth.ledger.lost_kg - truth.ledger.stored_kg)
        <= 0.001 * truth.ledger.evaporated_kg
    )


switching = st.lists(
    st.tuples(
        st.sets(st.sampled_from(["heater", "fan", "vent"])),
        st.sampled_from([5.0, 20.0, 300.0, 1200.0]),
        st.sampled_from(["", "door", "lift"]),
    ),
    min_size=1,
    max_size=8,
)


@settings(deadline=None, max_examples=25)
@given(
    plan=switching,
    rh_pct=st.floats(1.0, 99.0),
    room_c=st.floats(-5.0, 35.0),
    thickness_mm=st.sampled_from([None, 6.0, 25.0]),
)
def test_whatever_is_switched_it_stays_physical(
    plan: list[tuple[set[str], float, str]], rh_pct: float, room_c: float, thickness_mm: float | None
) -> None:
    """Weights rise only by dew on a surface colder than the dew point; moisture and humidity stay within their limits; accounts close."""
    twin = Twin("sim", {"room": {"rh_pct": rh_pct, "air_c": room_c}})
    twin.hang(hung(thickness_mm))
    now_s = 0.0
    twin.poll(now_s)
    before = twin.truth()
    for outputs, length_s, event in plan:
        twin.want(frozenset(outputs), now_s)
        (twin.open_door if event == "door" else twin.close_door)()
        if event == "lift":
            (twin.take_off if twin.truth().pieces[0].hanging else twin.put_back)("shoulder")
        now_s += length_s
        humidities = [s.value for s in twin.poll(now_s).samples if s.channel == "sim/humidity" and s.value is not None]
        assert all(0.0 <= value <= 100.0 for value in humidities)
        after = twin.truth()
        assert 0.0 <= after.rh_pct <= 100.0
        assert room_c - 20.0 < after.air_c < 400.0
        for old, new in zip(before.pieces, after.pieces, strict=True):
            could_gain_dew = min(old.surface_c, new.surface_c) < max(before.air_c, after.air_c, room_c)
            assert new.mass_g <= old.mass_g + (15.0 if could_gain_dew else 1e-6)
            assert new.surface_moisture >= 0.0
            assert 0.0 <= new.moisture <= 3.2
            assert 0.0 <= new.surface_activity <= 1.0
        before = after
    book = before.ledger
    assert abs(book.brought_kg - book.lost_kg - book.stored_kg) <= 1e-6 + 0.001 * abs(book.evaporated_kg)
