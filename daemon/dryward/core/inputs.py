"""What the engine is told in one tick. Recorded as is, so that a run can be stepped again and decide the same."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Annotated, Literal, NamedTuple

from annotated_types import Ge, Le

from dryward.core.chamber import Plant
from dryward.core.frozen import frozen
from dryward.core.program import Piece, Program
from dryward.core.units import AirC


class Reading(NamedTuple):
    """One sample. ``value`` is None when the device answered with a failure, named in ``fault``.

    ``channel`` is a sensor's or a scale's name; ``sampled_s`` is on the chamber clock.
    """

    channel: str
    value: float | None
    sampled_s: float
    fault: str = ""


@frozen
class Weighing:
    """A weight of one piece from a kitchen scale, typed in or played from a recording."""

    piece: str
    weight_g: float
    sampled_s: float


NoticeKind = Literal[
    "restarted",  # value: outage in s, or -1 when its length is not known
    "skipped-ticks",  # value: how many
    "clock-stepped",  # value: seconds the wall clock moved
    "keeper-lost",  # value: losses in the last 10 min
    "record-failing",  # text: why
    "record-well",
    "state-lost",  # text: why nothing is known of before the start
    "broker-lost",
    "broker-well",
    "reader-lost",  # text: which device
    "crash-loop",  # value: starts in the last 10 min
    "heat-forbidden",  # text: why the shell will not let the chamber heat
    "heat-allowed",
    "curves",  # text: what is wrong with which piece's drying curve, a line each; value: how many (core/curves.py)
    "request-refused",  # text: who asked for what from afar, and why it came no further than the door
]


@frozen
class Notice:
    """Something the shell found out about itself."""

    kind: NoticeKind
    value: float = 0.0
    text: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    verb: Literal["load"] = "load"
    pieces: tuple[Piece, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Start:
    """``run_id`` and ``batch`` are given by the shell, so that the core needs neither clock nor chance."""

    verb: Literal["start"] = "start"
    program: Program
    run_id: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Hold:
    verb: Literal["hold"] = "hold"
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Resume:
    verb: Literal["resume"] = "resume"


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    verb: Literal["stop"] = "stop"
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Weigh:
    verb: Literal["weigh"] = "weigh"
    piece: str
    weight_g: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Pull:
    """Take a piece out. ``weight_g`` None: its last known weight stands."""

    verb: Literal["pull"] = "pull"
    piece: str
    weight_g: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Ack:
    """Acknowledge an alarm or trip by its key, or all with ``"all"``."""

    verb: Literal["ack"] = "ack"
    alarm: str = "all"


@dataclass(frozen=True, slots=True, kw_only=True)
class Shelve:
    verb: Literal["shelve"] = "shelve"
    alarm: str
    hours: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Reset:
    """Clear latched trips after acknowledgement; takes an ended run back to idle."""

    verb: Literal["reset"] = "reset"


@dataclass(frozen=True, slots=True, kw_only=True)
class Tune:
    """Swing the air around ``setpoint_c`` to find what kind of body the chamber is. ``run_id`` is given by the shell."""

    verb: Literal["tune"] = "tune"
    setpoint_c: AirC
    meat_may_stay: bool = False
    run_id: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Adopt:
    """Use these figures from now on; without a plant, those of the chamber file again."""

    verb: Literal["adopt"] = "adopt"
    plant: Plant | None = None
    cycle_s: Annotated[float, Ge(1.0), Le(600.0)] = 40.0
    pace: Literal["calm", "tight"] = "calm"


Ask = Load | Start | Hold | Resume | Stop | Weigh | Pull | Ack | Shelve | Reset | Tune | Adopt


@dataclass(frozen=True, slots=True, kw_only=True)
class Request:
    """Somebody wants something. ``origin``: where it came from (socket, broker, button, scheduler, recording)."""

    request_id: str
    ask: Ask
    who: str
    origin: str = "socket"


@dataclass(frozen=True, slots=True, kw_only=True)
class Inputs:
    readings: tuple[Reading, ...] = ()
    weighings: tuple[Weighing, ...] = ()
    requests: tuple[Request, ...] = ()
    notices: tuple[Notice, ...] = field(default=())


NOTHING = Inputs()
