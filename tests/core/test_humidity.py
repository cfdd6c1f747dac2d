"""Humidifier, dehumidifier and vent: puffs, bands, dew, and that none works against another."""

from __future__ import annotations

from typing import Any

import psychrolib
import pytest

from dryward.core.chamber import Control
from dryward.core.humidity import (
    Moisture,
    Surface,
    airs,
    coil_does,
    dew_point_c,
    dries,
    followed,
    moistens,
    moisture,
    wet_bulb_c,
)
from dryward.core.switch import OFF, Switch

SEA_LEVEL_PA = 101_325.0
CONTROL = Control(rh_band_pct=3.0, puff_s=10.0, airing_every_s=21600.0, airing_s=180.0)


def at(
    above_pct: float | None, *, dew_c: float | None = 9.3, near_dew: bool = False, excess_pct: float | None = None
) -> Moisture:
    return Moisture(above_pct, dew_c, near_dew, (above_pct or 0.0) if excess_pct is None else excess_pct)


def wets(m: Moisture, *, now: float = 1000.0, **given: Any) -> bool:
    return moistens(
        CONTROL, m, **({"humidifier": OFF, "dehumidifier": OFF, "cooler": OFF, "door_open": False} | given), now=now
    )


def dry(m: Moisture, *, now: float = 1000.0, **given: Any) -> bool:
    return dries(
        CONTROL,
        m,
        **({"humidifier": OFF, "dehumidifier": OFF, "cooler": OFF, "cooler_near": False, "door_open": False} | given),
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
    assert wets(at(-1.6), humidifier=Switch(True, 995.0))
    assert not wets(at(-1.4), humidifier=Switch(True, 995.0))
    assert not wets(at(-9.0), humidifier=Switch(True, 990.0))
    assert not wets(at(-9.0), humidifier=Switch(False, 960.0, True))
    assert wets(at(-9.0), humidifier=Switch(False, 940.0, True))


def test_nothing_is_moistened_against_dehumidifier_airing_door_or_dew() -> None:
    assert not wets(at(-9.0), dehumidifier=Switch(False, 500.0, True))
    assert not wets(at(-9.0), now=21_500.0)
    assert not wets(at(-9.0), door_open=True)
    assert not wets(at(-9.0, near_dew=True))


RUNS, JUST_STOPPED, STOPPED = Switch(True, 0.0), Switch(False, 941.0, True), Switch(False, 939.0, True)


def test_a_coil_takes_water_gives_it_back_and_rests() -> None:
    assert [coil_does(c, 1000.0) for c in (OFF, RUNS, JUST_STOPPED, STOPPED)] == ["rests", "takes", "takes", "gives"]
    assert [coil_does(STOPPED, 939.0 + s) for s in (239.0, 240.0)] == ["gives", "rests"]
    assert coil_does(Switch(False, 941.0), 1000.0) == "rests"


@pytest.mark.parametrize("cooler", [RUNS, JUST_STOPPED])
def test_while_a_coil_takes_water_puffs_follow_soon_and_from_half_the_band(cooler: Switch) -> None:
    assert wets(at(-1.6), cooler=cooler)
    assert not wets(at(-1.4), cooler=cooler)
    assert not wets(at(-9.0), cooler=cooler, humidifier=Switch(False, 991.0, True))
    assert wets(at(-9.0), cooler=cooler, humidifier=Switch(False, 990.0, True))
    assert wets(at(-9.0), cooler=cooler, dehumidifier=Switch(False, 900.0, True))
    assert not wets(at(-9.0), cooler=cooler, dehumidifier=Switch(True, 0.0))


def test_while_a_coil_gives_water_back_drying_begins_at_the_setpoint_and_nothing_is_moistened() -> None:
    assert not wets(at(-9.0), cooler=STOPPED)
    assert dry(at(0.1), cooler=STOPPED)
    assert not dry(at(-0.1), cooler=STOPPED)
    assert dry(at(-2.9), cooler=STOPPED, dehumidifier=Switch(True, 0.0))
    assert not dry(at(-3.1), cooler=STOPPED, dehumidifier=Switch(True, 0.0))


def test_what_was_moistened_for_a_coil_may_be_dried_again() -> None:
    puffed = Switch(False, 900.0, True)
    assert dry(at(4.6), humidifier=puffed, cooler=RUNS)
    assert dry(at(3.1), humidifier=puffed, cooler=Switch(False, 341.0, True))
    assert not dry(at(5.0), humidifier=puffed, cooler=Switch(False, 339.0, True))


def test_air_that_is_only_warm_is_not_moistened_and_may_be_dried() -> None:
    """After a door. Saturation pressures of 16, 13 and 12.5 degC: 1818, 1498, 1449 Pa (psychrolib)."""
    assert not wets(at(-8.0, excess_pct=0.1))
    assert wets(at(-8.0, excess_pct=-0.1))
    assert dry(at(-8.0, excess_pct=9.1), cooler_near=True)
    assert not dry(at(-8.0, excess_pct=8.9), cooler_near=True)
    for air_c, ratio in ((16.0, 1818 / 1498), (12.5, 1449 / 1498)):
        m = moisture(CONTROL, None, rh_set_pct=78.0, air_c=air_c, rh_pct=70.0, ambient_c=20.0, setpoint_c=13.0)
        assert m.above_pct == pytest.approx(-8.0)
        assert m.excess_pct == pytest.approx(70.0 * ratio - 78.0, abs=0.1)


def test_the_dehumidifier_starts_above_its_band_and_stops_half_way() -> None:
    assert not dry(at(2.9))
    assert dry(at(3.1))
    assert dry(at(1.6), dehumidifier=Switch(True, 0.0))
    assert not dry(at(1.4), dehumidifier=Switch(True, 0.0))


def test_a_cooler_that_soon_runs_dries_enough_by_itself() -> None:
    assert not dry(at(4.4), cooler_near=True)
    assert dry(at(4.6), cooler_near=True)


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
    """And wet ones its wet bulb: 11.0 degC at 13 degC and 78 %RH (psychrolib)."""
    surface = followed(None, 8.0, 0.0, rh_pct=100.0, pressure_pa=SEA_LEVEL_PA)
    for minute in range(1, 121):
        surface = followed(surface, 13.0, 60.0 * minute, rh_pct=78.0, pressure_pa=SEA_LEVEL_PA)
    assert surface.piece_c == pytest.approx(13.0 - 5.0 / 2.718, abs=0.1)
    assert surface.wet_c == pytest.approx(11.0 - 3.0 / 2.718, abs=0.1)
    assert followed(surface, 20.0, surface.at_s + 59.0, rh_pct=78.0, pressure_pa=SEA_LEVEL_PA) is surface
    assert followed(surface, 13.0, surface.at_s + 60.0, rh_pct=None, pressure_pa=SEA_LEVEL_PA).wet_c == surface.wet_c


def test_wet_pieces_are_colder_than_the_air_and_dew_falls_on_them_sooner() -> None:
    """13 degC, 78 %RH, wet bulb 11.0: a room's air with a dew point of 11.3 degC (18 degC, 65 %RH) leaves dew on wet pieces only."""
    dry_pieces, wet_pieces = Surface(13.0, 0.0), Surface(13.0, 0.0, 11.0)
    assert not dry_pieces.dewed(11.3, 1.0)
    assert wet_pieces.dewed(11.3, 1.0)
    assert not wet_pieces.dewed(10.9, 1.0)
    for surface, near in ((dry_pieces, False), (wet_pieces, True)):
        m = moisture(CONTROL, surface, rh_set_pct=78.0, air_c=16.0, rh_pct=74.0, ambient_c=20.0)
        assert m.near_dew is near
        assert opens(at(4.0, dew_c=12.0), surface=surface, room_dew_c=11.3) is not near


@pytest.mark.parametrize("rh_pct", [85.0, 90.0, 95.0])
def test_a_moist_setpoint_is_not_taken_for_dew(rh_pct: float) -> None:
    """At rest the dew point never lies above the wet bulb, however moist the step."""
    surface = followed(None, 13.0, 0.0, rh_pct=rh_pct, pressure_pa=SEA_LEVEL_PA)
    assert not surface.dewed(dew_point_c(13.0, rh_pct), 0.0)


@pytest.mark.parametrize("air_c", [5.0, 13.0, 20.0])
@pytest.mark.parametrize("rh_pct", [60.0, 78.0, 95.0, 100.0])
@pytest.mark.parametrize("pressure_pa", [101_325.0, 80_000.0])
def test_the_wet_bulb_is_that_of_psychrolib(air_c: float, rh_pct: float, pressure_pa: float) -> None:
    """ASHRAE's equations as psychrolib has them, against the psychrometer's formula of WMO-No. 8, annex 4.B."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    expected = psychrolib.GetTWetBulbFromRelHum(air_c, rh_pct / 100.0, pressure_pa)
    assert wet_bulb_c(air_c, rh_pct, pressure_pa) == pytest.approx(expected, abs=0.1)
    assert wet_bulb_c(80.0, 10.0, 101_325.0) == pytest.approx(39.8, abs=0.7)  # a hot dryer's air (psychrolib)


@pytest.mark.parametrize("air_c", [0.0, 5.0, 13.0, 20.0, 35.0])
@pytest.mark.parametrize("rh_pct", [40.0, 60.0, 78.0, 95.0])
def test_the_dew_point_is_that_of_psychrolib(air_c: float, rh_pct: float) -> None:
    """ASHRAE's equations as psychrolib has them; above freezing, where a cabinet works."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    expected = psychrolib.GetTDewPointFromRelHum(air_c, rh_pct / 100.0)
    if expected > 0.0:
        assert dew_point_c(air_c, rh_pct) == pytest.approx(expected, abs=0.08)
