"""A drying program: steps that end by time in band, by loss, by core temperature or by a cap. Pure data."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Annotated, Literal

from annotated_types import Ge, Gt, Le, MaxLen, MinLen, doc

from dryward.core.units import AirC, BandK, Hours, LossPct, Name, RhPct
from dryward.science.loss import weight_after


@dataclass(frozen=True, slots=True, kw_only=True)
class Ends:
    """When a step is over. At least one condition; the cap always ends it."""

    dwell_h: Annotated[Hours | None, doc("Time with the air inside the band. Time outside does not count.")] = None
    loss_pct: Annotated[
        LossPct | None, doc("Loss at which the step is over, in per cent of each piece's own green weight.")
    ] = None
    own_target: Annotated[bool, doc("true: each piece's own target loss is the condition.")] = False
    pieces: Annotated[Literal["all", "any"], doc("Whether all pieces or any one must have reached the loss.")] = "all"
    core_c: Annotated[AirC | None, doc("Core probe temperature at which the step is over.")] = None
    cap_h: Annotated[
        Hours | None, doc("Longest time the step may take, band or not. Half as much again as you expect.")
    ] = None
    when: Annotated[
        Literal["first", "all"],
        doc(
            "'first': the first condition that holds ends the step; 'all': only when every one holds. The cap ends it either way."
        ),
    ] = "first"


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One stage of a program."""

    name: Annotated[Name, doc("Short name of the step, shown in status and record.")]
    ends: Annotated[
        Ends,
        doc("When the step is over: a table [steps.ends] with at least one condition, or ends = { dwell_h = 24.0 }."),
    ]
    air_c: Annotated[AirC | None, doc("Air temperature to hold. Left out in a watch-only step.")] = None
    ramp_k_per_h: Annotated[
        float | None,
        Gt(0.0),
        Le(600.0),
        doc("Largest change of the setpoint per hour. Left out: as fast as the heater can."),
    ] = None
    rh_pct: Annotated[RhPct | None, doc("Relative humidity to hold, where the chamber can.")] = None
    rh_follow_low_pct: Annotated[
        RhPct | None,
        doc(
            "Lets the humidity setpoint fall, from rh_pct down to this at most, as the wettest piece's estimated water activity falls; needs salt_pct and weights of the pieces. Left out: it stands. 5 below rh_pct is a cautious start."
        ),
    ] = None
    rh_follow_high_pct: Annotated[
        RhPct | None,
        doc("The same upwards, where a piece turns out wetter than when it was raw. Left out: never above rh_pct."),
    ] = None
    band_k: Annotated[
        BandK, doc("Half width of the band in which time counts as dwell. A little more than the normal swing.")
    ] = 3.0
    safe_air_low_c: Annotated[AirC | None, doc("Below this an alarm is raised (in a watch-only step too).")] = None
    safe_air_high_c: Annotated[
        AirC | None, doc("Above this an alarm is raised (in a watch-only step too). Cold rest: 4.4 degC.")
    ] = None
    safe_rh_low_pct: Annotated[RhPct | None, doc("Humidity below this raises an alarm: a crust forms.")] = None
    safe_rh_high_pct: Annotated[RhPct | None, doc("Humidity above this raises an alarm: mould and slime.")] = None
    watch_only: Annotated[
        bool, doc("true: bands and logging only, every output stays off. For the cold rest in a fridge.")
    ] = False
    vent: Annotated[Literal["shut", "open", "by-humidity"], doc("What the vent does, where there is one.")] = (
        "by-humidity"
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class AtEnd:
    """What happens when the run is over."""

    action: Annotated[
        Literal["off", "keep-warm"],
        doc(
            "'off': heat off, fan runs on. 'keep-warm': hold a temperature for a limited time so that nothing cools unseen."
        ),
    ] = "off"
    air_c: Annotated[AirC | None, doc("Temperature to keep; food is out of the danger zone above 60 degC.")] = None
    max_h: Annotated[float, Gt(0.0), Le(24.0), doc("Longest time to keep warm; drying goes on meanwhile.")] = 4.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Program:
    """A whole program. Times in hours, temperatures in degC, humidity in %RH."""

    name: Annotated[Name, doc("Short name of the program, shown in status and record.")]
    steps: Annotated[tuple[Step, ...], MinLen(1), MaxLen(24)]
    cap_h: Annotated[
        float,
        Gt(0.0),
        Le(4380.0),
        doc(
            "The run is ended after so many hours whatever has or has not been reached. About twice the time you expect."
        ),
    ]
    at_end: AtEnd = field(default_factory=AtEnd)
    note: Annotated[str, MaxLen(400), doc("A line for yourself.")] = ""
    poultry: Annotated[
        bool, doc("true for duck, goose and other poultry: the poultry figures are used in every food statement.")
    ] = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """One piece of meat as loaded. ``green_g`` is its raw weight before salt."""

    name: Annotated[Name, doc("What you call it by in every command.")]
    green_g: Annotated[float, Gt(0.0), Le(50_000.0), doc("Raw weight, g, before salt.")]
    target_loss_pct: Annotated[
        float,
        Ge(1.0),
        Le(90.0),
        doc("Share of its own green weight it has to lose. 30-40 is common practice for whole muscle, no source."),
    ] = 35.0
    scale: Annotated[Name | None, doc("The [scales.NAME] it hangs on; left out: weighed by hand.")] = None
    thickness_mm: Annotated[
        float | None, Gt(1.0), Le(400.0), doc("Thickness at its thickest: helps the first forecast.")
    ] = None
    cut: Annotated[str, MaxLen(60), doc("Cut, for the label and for composition figures.")] = ""
    salt_pct: Annotated[float | None, Ge(0.0), Le(15.0), doc("Salt rubbed in, per cent of the green weight.")] = None

    @property
    def target_g(self) -> float:
        """Weight at which this piece is done, g: ``green_g (1 - loss)``."""
        return weight_after(self.green_g, self.target_loss_pct)
