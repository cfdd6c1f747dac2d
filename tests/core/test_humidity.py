"""Humidifier, dehumidifier and vent: puffs, bands, dew, and that none works against another."""

from __future__ import annotations

from typing import Any

import psychrolib
import pytest

from dryward.core.chamber import Control
from dryward.core.humidity import Moisture, Surface, airs, dew_point_c, dries, followed, moistens, moisture
from dryward.core.switch import OFF, Switch

CONTROL = Control(rh_band_pct=3.0, puff_s=10.0, airing_every_s=21600.0, airing_s=180.0)


def at(above_pct: float | None, *, dew_c: float | None = 9.3, near_dew: bool = False) -> Moisture:
    return Moisture(above_pct, dew_c, near_dew)


def wets(m: Moisture, *, now: float = 1000.0, **given: Any) -> bool:
    return moistens(
        CONTROL, m, **({"humidifier": OFF, "dehumidifier": OFF, "cooler": OFF, "door_open": False} | given), now=now
    )


def dry(m: Moisture, *, now: float = 1000.0, **given: Any) -> bool:
    return dries(
        CONTROL,
        m,
        **({"humidifier": OFF, "dehumidifier": OFF, "cooler_near": False, "door_open": False} | given),
        now=now,
    )


def opens(m: Moisture, *, now: float = 1000.0, **given: Any) -> bool:
    asked: dict[str, Any] = {
        "surface": Surface(13.0, 0.0), "vent": OFF, "dehumidifier": OFF, "mode": "by-humidity", "held": True, "room_dew_c": None, "cabinet": True,
    }  # fmt: skip
    return airs(CONTROL, m, **(asked | given), now=now)


def test_the_humidifier_works_in_puffs_below_its_band() -> None:
    assert not wets(at(-2.9))
    assert wets(at(-3.1))
    assert wets(at(-3.1), humidifier=Switch(True, 995.0))
    assert not wets(at(-9.0), humidifier=Switch(True, 990.0))
    assert not wets(at(-9.0), humidifier=Switch(False, 960.0, True))
    assert wets(at(-9.0), humidifier=Switch(False, 940.0, True))


def test_nothing_is_moistened_against_coil_dehumidifier_airing_door_or_dew() -> None:
    assert not wets(at(-9.0), cooler=Switch(True, 0.0))
    assert not wets(at(-9.0), cooler=Switch(False, 900.0, True))
    assert not wets(at(-9.0), dehumidifier=Switch(False, 500.0, True))
    assert not wets(at(-9.0), now=21_500.0)
    assert not wets(at(-9.0), door_open=True)
    assert not wets(at(-9.0, near_dew=True))


def test_the_dehumidifier_starts_above_its_band_and_stops_half_way() -> None:
    assert not dry(at(2.9))
    assert dry(at(3.1))
    assert dry(at(1.6), dehumidifier=Switch(True, 0.0))
    assert not dry(at(1.4), dehumidifier=Switch(True, 0.0))


def test_a_cooler_that_soon_runs_dries_enough_by_itself() -> None:
    assert not dry(at(5.0), cooler_near=True)
    assert dry(at(6.1), cooler_near=True)


def test_the_dehumidifier_does_not_take_back_a_puff_unless_dew_is_near() -> None:
    puffed = Switch(False, 900.0, True)
    assert not dry(at(5.0), humidifier=puffed)
    assert dry(at(5.0, near_dew=True), humidifier=puffed)
    assert not dry(at(5.0), humidifier=Switch(True, 999.0))


def test_without_setpoint_or_reading_nothing_is_wanted() -> None:
    assert not wets(at(None))
    assert not dry(at(None, near_dew=True))


@pytest.mark.parametrize(
    ("mode", "held", "cabinet", "wanted"),
    [
        ("open", True, True, True),
        ("shut", True, True, False),
        ("by-humidity", False, True, False),
        ("by-humidity", False, False, True),
    ],
)
def test_the_vent_does_as_the_step_says(mode: str, held: bool, cabinet: bool, wanted: bool) -> None:
    """By humidity without a humidity to hold: a hot dryer lets its moisture out, a cabinet keeps its cold in."""
    assert opens(at(None), mode=mode, held=held, cabinet=cabinet) is wanted


def test_the_vent_opens_when_the_rooms_air_helps() -> None:
    assert opens(at(4.0), room_dew_c=8.0)
    assert not opens(at(4.0), room_dew_c=9.5)
    assert opens(at(-4.0), room_dew_c=10.5)
    assert not opens(at(-4.0), room_dew_c=8.0)
    assert opens(at(4.0))
    assert not opens(at(-4.0))
    assert not opens(at(-4.0), room_dew_c=10.5, dehumidifier=Switch(False, 900.0, True))


def test_the_vent_stays_as_it_is_without_a_reading() -> None:
    assert opens(at(None, dew_c=None), vent=Switch(True, 0.0))
    assert not opens(at(None, dew_c=None))


def test_the_air_is_changed_by_the_clock_but_not_when_it_would_leave_dew() -> None:
    assert opens(at(0.0), now=21_500.0)
    assert not opens(at(0.0), now=21_500.0, mode="shut")
    assert not opens(at(0.0), now=21_500.0, room_dew_c=12.5)
    assert not opens(at(0.0), mode="open", room_dew_c=12.5)


def test_dew_is_near_when_air_has_warmed_faster_than_the_pieces() -> None:
    """Air at 13 degC and 80 %RH has its dew point at 9.6 degC (psychrolib): dry at pieces of 13, wet at pieces of 8 degC."""
    warm = moisture(CONTROL, Surface(13.0, 0.0), rh_set_pct=80.0, air_c=13.0, rh_pct=80.0, ambient_c=20.0)
    cold = moisture(CONTROL, Surface(8.0, 0.0), rh_set_pct=80.0, air_c=13.0, rh_pct=80.0, ambient_c=20.0)
    assert (warm.near_dew, cold.near_dew) == (False, True)
    assert warm.dew_c == pytest.approx(9.6, abs=0.1)


def test_a_cold_room_makes_the_walls_the_coldest_surface() -> None:
    """At 13 degC and 88 %RH the dew point is 11.1 degC: below the pieces, not below a wall with the room at 0 degC."""
    for ambient_c, near in ((20.0, False), (0.0, True)):
        assert (
            moisture(
                CONTROL, Surface(13.0, 0.0), rh_set_pct=88.0, air_c=13.0, rh_pct=88.0, ambient_c=ambient_c
            ).near_dew
            is near
        )


def test_pieces_follow_the_air_in_hours() -> None:
    surface = followed(None, 8.0, 0.0)
    for minute in range(1, 121):
        surface = followed(surface, 13.0, 60.0 * minute)
    assert surface.piece_c == pytest.approx(13.0 - 5.0 / 2.718, abs=0.1)
    assert followed(surface, 20.0, surface.at_s + 59.0) is surface


@pytest.mark.parametrize("air_c", [0.0, 5.0, 13.0, 20.0, 35.0])
@pytest.mark.parametrize("rh_pct", [40.0, 60.0, 78.0, 95.0])
def test_the_dew_point_is_that_of_psychrolib(air_c: float, rh_pct: float) -> None:
    """ASHRAE's equations as psychrolib has them; above freezing, where a cabinet works."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    expected = psychrolib.GetTDewPointFromRelHum(air_c, rh_pct / 100.0)
    if expected > 0.0:
        assert dew_point_c(air_c, rh_pct) == pytest.approx(expected, abs=0.08)
