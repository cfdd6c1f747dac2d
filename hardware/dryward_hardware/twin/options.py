"""Options of the twin: what is simulated, how it is measured, what goes wrong. Every figure has a default that works.

Where a figure has no source it is a plausible one: change it to match a chamber you know by comparing a rehearsal with
a real run.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Annotated, Literal

from annotated_types import Ge, Gt, Le, doc

from dryward_hardware.checked import checked
from dryward_hardware.twin.boxes import Body as Body
from dryward_hardware.twin.boxes import Cabinet as Cabinet
from dryward_hardware.twin.boxes import Dryer as Dryer
from dryward_hardware.twin.boxes import Share
from dryward_hardware.twin.faults import Fault

Model = Literal["dryer", "cabinet", "small-fan-box", "slow-box", "overpowered"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """The room around the chamber."""

    air_c: Annotated[float, Ge(-30.0), Le(45.0), doc("Mean temperature of the room, degC.")] = 22.0
    day_swing_k: Annotated[float, Ge(0.0), Le(15.0), doc("Half of the difference between day and night, K.")] = 0.0
    rh_pct: Annotated[
        float,
        Ge(1.0),
        Le(100.0),
        doc("Relative humidity at the mean temperature; its water stays the same day and night."),
    ] = 50.0
    coldest_h: Annotated[float, Ge(0.0), Le(24.0), doc("Hours after the start at which the room is coldest.")] = 8.0
    mains_swing: Annotated[
        float,
        Ge(0.0),
        Le(0.3),
        doc("Slow wandering of the mains voltage, as a share of its nominal value; heat goes with its square."),
    ] = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Meat:
    """What a piece is made of and how water moves in it."""

    water_share: Annotated[float, Gt(0.1), Le(0.9), doc("Water in the green weight. Lean raw meat: 0.75.")] = 0.75
    start_c: Annotated[float, Ge(-2.0), Le(40.0), doc("Temperature of the pieces as they are hung, degC.")] = 6.0
    density_kg_m3: Annotated[
        float, Ge(800.0), Le(1400.0), doc("Density; raw lean meat 1040 (Choi and Okos 1986, composition 75/20/3/2).")
    ] = 1040.0
    shape: Annotated[
        Literal["auto", "cylinder", "slab"],
        doc("'auto': a slab when the piece is broad against its thickness, otherwise a cylinder."),
    ] = "auto"
    diffusivity_m2_s: Annotated[
        float,
        Gt(0.0),
        Le(1e-7),
        doc(
            "Diffusivity of water at 75 degC in wet meat. Published values spread over two orders of magnitude (4e-11 to 1.4e-9 at 30-60 degC): an identified figure."
        ),
    ] = 5.2e-10
    activation_j_mol: Annotated[
        float,
        Ge(0.0),
        Le(100_000.0),
        doc("How diffusivity rises with temperature; beef in hot air 42 900 (Ismail and Kocabay 2018)."),
    ] = 42_900.0
    dry_share: Annotated[
        float,
        Gt(0.0),
        Le(1.0),
        doc("Diffusivity in dry meat as a share of that in wet meat: it falls in proportion to the moisture."),
    ] = 0.25
    half_activity_kg_kg: Annotated[
        float,
        Gt(0.0),
        Le(1.0),
        doc(
            "Water per dry matter at which the water activity is one half (Oswin isotherm with exponent 0.5; plausible for meat, no source)."
        ),
    ] = 0.12
    conductivity_w_mk: Annotated[
        float, Gt(0.05), Le(2.0), doc("Heat conductivity; raw lean meat 0.48-0.57 (Choi and Okos 1986).")
    ] = 0.5
    dry_j_kgk: Annotated[
        float,
        Ge(800.0),
        Le(3000.0),
        doc("Heat capacity of the dry matter (protein 2008, fat 1984: Choi and Okos 1986)."),
    ] = 2000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Sensing:
    """How values are measured."""

    temperature_s: Annotated[
        float, Ge(0.25), Le(600.0), doc("Time between temperature readings, s. A slower poll gets the newest only.")
    ] = 2.0
    humidity_s: Annotated[float, Ge(0.25), Le(600.0), doc("Time between humidity readings, s.")] = 4.0
    weight_s: Annotated[float, Ge(0.25), Le(3600.0), doc("Time between readings of the load cells, s.")] = 30.0
    room_s: Annotated[float, Ge(0.25), Le(3600.0), doc("Time between readings of the room, s.")] = 30.0
    contact_s: Annotated[float, Ge(0.25), Le(60.0), doc("Time between readings of door and fan, s.")] = 1.0
    air_lag_s: Annotated[float, Ge(0.0), Le(600.0), doc("Time constant of the air and limit sensors, s.")] = 15.0
    humidity_lag_s: Annotated[float, Ge(0.0), Le(600.0), doc("Time constant of the humidity sensor, s.")] = 20.0
    core_lag_s: Annotated[float, Ge(0.0), Le(600.0), doc("Time constant of the core probe, s.")] = 20.0
    temperature_noise_k: Annotated[float, Ge(0.0), Le(5.0), doc("Standard deviation of a temperature reading, K.")] = (
        0.1
    )
    temperature_step_k: Annotated[
        float, Ge(0.0), Le(5.0), doc("Resolution of a temperature reading, K; 0 is exact.")
    ] = 0.1
    humidity_noise_pct: Annotated[float, Ge(0.0), Le(10.0), doc("Standard deviation of a humidity reading, %RH.")] = 0.3
    humidity_step_pct: Annotated[float, Ge(0.0), Le(10.0), doc("Resolution of a humidity reading, %RH.")] = 0.1
    weight_noise_g: Annotated[float, Ge(0.0), Le(1000.0), doc("Standard deviation of a weight reading, g.")] = 0.3
    weight_step_g: Annotated[float, Ge(0.0), Le(100.0), doc("Resolution of a weight reading, g.")] = 0.1
    weight_fan_g: Annotated[
        float, Ge(0.0), Le(1000.0), doc("Shaking of a weight by the running fan, standard deviation, g.")
    ] = 0.3
    weight_knock_g: Annotated[
        float,
        Ge(0.0),
        Le(10_000.0),
        doc("Shaking of a weight just after the door moved or somebody was at the rack, g; it dies away in seconds."),
    ] = 40.0
    weight_creep_share: Annotated[
        float,
        Ge(0.0),
        Le(0.01),
        doc("Creep of a cell, as a share of a change of its load; a good cell 0.0002 in half an hour."),
    ] = 0.0002
    weight_drift_g_per_5k: Annotated[
        float,
        Ge(0.0),
        Le(100.0),
        doc(
            "Largest wandering of a cell's zero, g for each 5 K of its own temperature (0.7 v_min of class C3, OIML R 60: about 0.7 g for 10 kg)."
        ),
    ] = 0.7
    weight_air_share: Annotated[
        Share, doc("How much the cells feel of the chamber's air: 0 hang outside it, 1 hang in it.")
    ] = 0.05
    failed_share: Annotated[
        float,
        Ge(0.0),
        Le(0.95),
        doc("Share of temperature and humidity readings that fail; 0.3 is normal for cheap one-wire humidity sensors."),
    ] = 0.0
    rack: Annotated[bool, doc("true: a cell weighs the whole rack.")] = True
    core_piece: Annotated[str, doc("Piece that carries the core probe; empty: the heaviest.")] = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class TwinOptions:
    """A whole twin."""

    model: Annotated[
        Model,
        doc(
            "'dryer' dries meat hot, 'cabinet' cool and slowly; the others are plain heated bodies of known figures for trying control on."
        ),
    ] = "dryer"
    seed: Annotated[int, Ge(0), Le(2**31), doc("Same seed, same readings.")] = 1
    start_c: Annotated[
        float | None, Ge(-30.0), Le(120.0), doc("Temperature of the chamber at the start; left out: that of the room.")
    ] = None
    hooks: Annotated[tuple[str, ...], doc("Names of load cells that report even when nothing hangs on them.")] = ()
    room: Room = field(default_factory=Room)
    meat: Meat = field(default_factory=Meat)
    dryer: Dryer = field(default_factory=Dryer)
    cabinet: Cabinet = field(default_factory=Cabinet)
    body: Annotated[Body | None, doc("Figures of a plain heated body in place of the model's own.")] = None
    sensing: Sensing = field(default_factory=Sensing)
    faults: Annotated[tuple[Fault, ...], doc("What goes wrong, and when.")] = ()

    def __post_init__(self) -> None:
        if self.body is not None and self.model in ("dryer", "cabinet"):
            raise ValueError(
                f"body has no meaning for the {self.model}; leave it out, or choose the model small-fan-box"
            )


def twin_options(device: str, given: Mapping[str, object]) -> TwinOptions:
    """Make options from a mapping as read from TOML; raises DeviceError naming every mistake."""
    return checked(TwinOptions, device, given)
