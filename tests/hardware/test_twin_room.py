"""The room: day and night, its moisture."""

from __future__ import annotations

import psychrolib
import pytest

from dryward_hardware.twin.options import Room
from dryward_hardware.twin.room import RoomAir

psychrolib.SetUnitSystem(psychrolib.SI)


def test_a_steady_room_stays_as_it_is() -> None:
    room = RoomAir(Room(air_c=18.0, rh_pct=60.0))
    for elapsed_s in (0.0, 40_000.0, 1e6):
        room.at(elapsed_s)
        assert (room.air_c, room.mains) == (18.0, 1.0)
        assert room.rh_pct == pytest.approx(60.0)
    assert room.ratio == pytest.approx(psychrolib.GetHumRatioFromRelHum(18.0, 0.6, 101_325.0), rel=1e-3)


def test_the_day_is_coldest_when_told_and_warmest_half_a_day_later() -> None:
    room = RoomAir(Room(air_c=20.0, day_swing_k=4.0, coldest_h=8.0))
    temperatures = []
    for hour in range(24):
        room.at(hour * 3600.0)
        temperatures.append(room.air_c)
    assert min(temperatures) == temperatures[8] == pytest.approx(16.0)
    assert max(temperatures) == temperatures[20] == pytest.approx(24.0)


def test_the_water_in_the_air_stays_so_a_cold_night_is_more_humid() -> None:
    room = RoomAir(Room(air_c=20.0, day_swing_k=5.0, rh_pct=60.0, coldest_h=0.0))
    room.at(0.0)
    night, ratio = room.rh_pct, room.ratio
    room.at(43_200.0)
    assert night > 75.0 > 50.0 > room.rh_pct
    assert room.ratio == ratio


def test_a_room_below_its_dew_point_shows_100_per_cent() -> None:
    room = RoomAir(Room(air_c=20.0, day_swing_k=10.0, rh_pct=90.0, coldest_h=0.0))
    room.at(0.0)
    assert room.rh_pct == 100.0
