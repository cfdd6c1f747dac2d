"""Figures of the simulated bodies: a small home dryer, a cool cabinet, a plain heated body.

Where a figure has no source it is a plausible one for its kind of chamber.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from annotated_types import Ge, Gt, Le, doc

Share = Annotated[float, Ge(0.0), Le(1.0)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Dryer:
    """The hot dryer's body: a heater element, the air with everything thin in it, the walls."""

    volume_m3: Annotated[float, Gt(0.0), Le(20.0), doc("Air in the chamber, m3.")] = 0.12
    heater_w: Annotated[float, Gt(0.0), Le(20_000.0), doc("Heater at nominal mains voltage, W.")] = 900.0
    fan_w: Annotated[float, Ge(0.0), Le(500.0), doc("Fan, W; all of it becomes heat inside.")] = 15.0
    fan: Annotated[
        Literal["switched", "always"],
        doc("'switched': turns with the output 'fan'; 'always': wired to turn whenever there is power."),
    ] = "switched"
    contactor: Annotated[
        bool,
        doc("true: a master contactor is fitted, and without the output 'contactor' there is no heat, welded or not."),
    ] = False
    element_j_k: Annotated[float, Gt(0.0), Le(1e5), doc("Heat capacity of the heater element, J/K.")] = 120.0
    element_w_k: Annotated[float, Gt(0.0), Le(1e4), doc("From the element to the air with the fan on, W/K.")] = 8.0
    air_j_k: Annotated[
        float, Gt(0.0), Le(1e6), doc("Heat capacity of the air and all that follows it at once (hooks, liner), J/K.")
    ] = 3000.0
    wall_j_k: Annotated[float, Gt(0.0), Le(1e7), doc("Heat capacity of the walls, J/K.")] = 12_000.0
    air_wall_w_k: Annotated[float, Gt(0.0), Le(1e4), doc("From the air to the walls with the fan on, W/K.")] = 25.0
    wall_room_w_k: Annotated[float, Gt(0.0), Le(1e4), doc("From the walls to the room, W/K.")] = 4.0
    leak_m3_h: Annotated[float, Ge(0.0), Le(1000.0), doc("Air exchanged through gaps with everything shut, m3/h.")] = (
        4.0
    )
    vent_m3_h: Annotated[
        float, Ge(0.0), Le(10_000.0), doc("Air exchanged through the open vent with the fan on, m3/h.")
    ] = 10.0
    door_m3_h: Annotated[float, Ge(0.0), Le(10_000.0), doc("Air exchanged through the open door, m3/h.")] = 150.0
    film_w_m2k: Annotated[
        float,
        Gt(1.0),
        Le(200.0),
        doc(
            "Heat transfer to the pieces with the fan on; 10-60 is plausible in a small fan dryer: an identified figure."
        ),
    ] = 25.0
    still_film_w_m2k: Annotated[float, Gt(1.0), Le(200.0), doc("The same in still air.")] = 5.0
    lewis_factor: Annotated[
        float,
        Ge(0.5),
        Le(2.0),
        doc(
            "Mass transfer over what heat transfer gives by the Lewis relation. 1 makes a wet surface settle at the thermodynamic wet bulb."
        ),
    ] = 1.0
    air_dead_s: Annotated[float, Ge(0.0), Le(600.0), doc("Time the air takes from the heater to the sensors, s.")] = 5.0
    limit_share: Annotated[
        Share, doc("How much the limit sensor feels of the element: 0 sits in the same air as the control sensor.")
    ] = 0.02


@dataclass(frozen=True, slots=True, kw_only=True)
class Cabinet:
    """The cool cabinet's body, such as a converted refrigerator: coil, air with everything thin in it, walls."""

    volume_m3: Annotated[float, Gt(0.0), Le(20.0), doc("Air in the cabinet, m3.")] = 0.35
    cooler_w: Annotated[float, Gt(0.0), Le(20_000.0), doc("Cooling power with the coil at 0 degC, W.")] = 120.0
    compressor_w: Annotated[float, Ge(0.0), Le(20_000.0), doc("Power the compressor takes, W.")] = 70.0
    cooler_lag_s: Annotated[float, Gt(0.0), Le(600.0), doc("Time in which the cooling builds up, s.")] = 60.0
    equalise_s: Annotated[
        float,
        Ge(0.0),
        Le(1800.0),
        doc("Rest a compressor needs: started sooner it stalls until it is switched off again, s."),
    ] = 150.0
    coil_j_k: Annotated[float, Gt(0.0), Le(1e6), doc("Heat capacity of the coil, J/K.")] = 1500.0
    coil_w_k: Annotated[float, Gt(0.0), Le(1e4), doc("From the coil to the air with the fan on, W/K.")] = 12.0
    coil_holds_g: Annotated[
        float, Ge(0.0), Le(10_000.0), doc("Water that stays on the coil and does not drain, g.")
    ] = 60.0
    heater_w: Annotated[float, Ge(0.0), Le(20_000.0), doc("Heater at nominal mains voltage, W.")] = 60.0
    humidifier_g_h: Annotated[float, Ge(0.0), Le(100_000.0), doc("Water the humidifier gives, g/h.")] = 150.0
    humidifier_w: Annotated[float, Ge(0.0), Le(5000.0), doc("Power of the humidifier, W.")] = 20.0
    dehumidifier_g_h: Annotated[
        float, Ge(0.0), Le(100_000.0), doc("Water the dehumidifier takes at 13 degC and 78 %RH, g/h.")
    ] = 40.0
    dehumidifier_w: Annotated[
        float, Ge(0.0), Le(5000.0), doc("Power of the dehumidifier, W; it becomes heat inside.")
    ] = 40.0
    fan_w: Annotated[float, Ge(0.0), Le(500.0), doc("Fan, W; all of it becomes heat inside.")] = 4.0
    fan: Annotated[
        Literal["switched", "always"],
        doc("'switched': turns with the output 'fan'; 'always': wired to turn whenever there is power."),
    ] = "switched"
    contactor: Annotated[
        bool,
        doc("true: a master contactor is fitted, and without the output 'contactor' there is no heat, welded or not."),
    ] = False
    air_j_k: Annotated[
        float, Gt(0.0), Le(1e6), doc("Heat capacity of the air and all that follows it at once (shelves, liner), J/K.")
    ] = 8000.0
    wall_j_k: Annotated[float, Gt(0.0), Le(1e7), doc("Heat capacity of the walls, J/K.")] = 15_000.0
    air_wall_w_k: Annotated[float, Gt(0.0), Le(1e4), doc("From the air to the walls with the fan on, W/K.")] = 15.0
    wall_room_w_k: Annotated[float, Gt(0.0), Le(1e4), doc("From the walls to the room, W/K.")] = 1.5
    leak_m3_h: Annotated[float, Ge(0.0), Le(1000.0), doc("Air exchanged through gaps with everything shut, m3/h.")] = (
        0.3
    )
    vent_m3_h: Annotated[
        float, Ge(0.0), Le(10_000.0), doc("Air exchanged through the open vent with the fan on, m3/h.")
    ] = 6.0
    door_m3_h: Annotated[float, Ge(0.0), Le(10_000.0), doc("Air exchanged through the open door, m3/h.")] = 200.0
    film_w_m2k: Annotated[float, Gt(1.0), Le(200.0), doc("Heat transfer to the pieces with the fan on.")] = 10.0
    still_film_w_m2k: Annotated[float, Gt(1.0), Le(200.0), doc("The same in still air.")] = 4.0
    lewis_factor: Annotated[
        float, Ge(0.5), Le(2.0), doc("Mass transfer over what heat transfer gives by the Lewis relation.")
    ] = 1.0
    air_dead_s: Annotated[float, Ge(0.0), Le(600.0), doc("Time the air takes to the sensors, s.")] = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Body:
    """A heated body of first order with dead time, for trying control on, in place of the figures of the model named."""

    rise_k: Annotated[float, Gt(1.0), Le(2000.0), doc("Rise above the room at full power, held for ever, K.")]
    time_constant_s: Annotated[float, Gt(1.0), Le(100_000.0), doc("Time to 63 % of that rise, s.")]
    dead_s: Annotated[float, Ge(0.0), Le(3600.0), doc("Time before a change of the heater shows, s.")]
    lag_s: Annotated[float, Ge(0.0), Le(3600.0), doc("Time constant of the sensor, s.")]
    door_factor: Annotated[float, Ge(1.0), Le(50.0), doc("How many times faster heat is lost with the door open.")] = (
        4.0
    )
