"""The default bodies are chambers that can do their work, by their own steady-state balance."""

from __future__ import annotations

import pytest

from dryward_hardware.twin.boxes import Body, Cabinet, Dryer

AIR_J_M3K = 1.19 * 1006.0  # of room air


def loss_w_k(box: Dryer | Cabinet, flow_m3_h: float) -> float:
    """Heat lost per kelvin above the room: walls in series, and exchanged air."""
    return 1.0 / (1.0 / box.air_wall_w_k + 1.0 / box.wall_room_w_k) + flow_m3_h / 3600.0 * AIR_J_M3K


def test_the_dryer_can_hold_80_degrees_with_its_vent_open_and_wet_meat_inside() -> None:
    """Four wet pieces of 0.16 m2 together take about 1.5 kg/m2/h x 2.4 MJ/kg at 80 degC and 10 %RH (CoolProp)."""
    dryer = Dryer()
    wet_w = 0.16 * 1.504 / 3600.0 * 2.406e6
    assert dryer.heater_w > loss_w_k(dryer, dryer.leak_m3_h + dryer.vent_m3_h) * (80.0 - 22.0) + wet_w


def test_the_cabinet_can_hold_13_degrees_in_a_hot_room_and_its_heater_in_a_cold_one() -> None:
    cabinet = Cabinet()
    loss = loss_w_k(cabinet, cabinet.leak_m3_h)
    assert cabinet.cooler_w > loss * (35.0 - 13.0) + cabinet.fan_w + cabinet.dehumidifier_w
    assert cabinet.heater_w > loss * (13.0 - (-5.0)) - cabinet.fan_w


def test_a_plain_body_has_no_figures_of_its_own() -> None:
    with pytest.raises(TypeError):
        Body()  # type: ignore[call-arg]
