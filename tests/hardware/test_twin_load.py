"""The pieces as the air feels them: steps cut short, pieces beside the chamber, water under way."""

from __future__ import annotations

import pytest

from dryward_hardware.ports import Hung
from dryward_hardware.twin.load import Load
from dryward_hardware.twin.model import TICK_S
from dryward_hardware.twin.options import Meat, Room
from dryward_hardware.twin.piece import PieceBody
from dryward_hardware.twin.room import RoomAir


def load_of(*green_g: float) -> tuple[Load, list[PieceBody]]:
    load = Load(still_w_m2k=5.0, lewis_factor=1.0)
    bodies = [PieceBody(Hung(name=str(g), green_g=g), Meat()) for g in green_g]
    for body in bodies:
        load.put_in(body, new=True)
    load.stir(25.0)
    return load, bodies


def pass_time(load: Load, ticks: int, *, air_c: float, ratio: float) -> None:
    load.ticks += ticks
    load.air_cs += air_c * ticks * TICK_S
    load.ratio_s += ratio * ticks * TICK_S


def test_what_the_pieces_give_is_the_sum_of_each() -> None:
    load, bodies = load_of(500.0, 700.0)
    load.begin(30.0, air_c=70.0, ratio=0.02)
    assert load.give == pytest.approx(sum(b.give_at_zero for b in bodies))
    assert load.fall == pytest.approx(sum(b.give_fall for b in bodies))
    assert load.heat_w_k == pytest.approx(25.0 * sum(b.shape.area_m2 for b in bodies))


def test_weights_fall_while_a_step_is_under_way_and_do_not_jump_at_its_end() -> None:
    load, (body,) = load_of(700.0)
    room = RoomAir(Room())
    for _ in range(100):
        load.begin(30.0, air_c=80.0, ratio=0.02)
        pass_time(load, 60, air_c=80.0, ratio=0.02)
        half = load.mass_g(body)
        pass_time(load, 60, air_c=80.0, ratio=0.02)
        full = load.mass_g(body)
        load.end(room)
        assert load.mass_g(body) == pytest.approx(full, abs=1e-9)
    assert full < half < 700.0


def test_a_step_cut_short_keeps_water_and_heat() -> None:
    load, _ = load_of(700.0)
    for _ in range(20):
        load.begin(30.0, air_c=80.0, ratio=0.02)
        pass_time(load, 40, air_c=80.0, ratio=0.02)
        energy, water = load.stored()
        load.end(RoomAir(Room()))
        assert load.stored()[1] == pytest.approx(water, abs=1e-12)
        assert load.stored()[0] == pytest.approx(energy, rel=1e-4)


def test_a_piece_beside_the_chamber_dries_and_cools_in_the_room_and_that_is_booked() -> None:
    load, (body,) = load_of(700.0)
    room = RoomAir(Room(air_c=15.0, rh_pct=40.0))
    body.core_c = body.middle_c = body.surface_c = 60.0
    energy, water = load.stored()
    load.take_out(body)
    for _ in range(240):
        load.begin(30.0, air_c=80.0, ratio=0.02)
        pass_time(load, 120, air_c=80.0, ratio=0.02)
        load.end(room)
    assert body.surface_c < 45.0
    assert body.mass_g < 700.0
    assert water - load.stored()[1] == pytest.approx(load.lost_kg)
    assert energy - load.stored()[0] == pytest.approx(load.lost_j, rel=1e-2)
    load.put_in(body, new=False)
    assert load.outside == []


def test_ending_a_step_in_which_no_time_passed_changes_nothing() -> None:
    load, (body,) = load_of(700.0)
    load.begin(30.0, air_c=80.0, ratio=0.02)
    before = list(body.water.moisture)
    load.end(RoomAir(Room()))
    assert body.water.moisture == before
