"""An invented chamber, program and run for the tests of the record."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from dryward.core.chamber import Chamber, Output, Scale, Sensor
from dryward.core.commands import Commands, Event, Reply
from dryward.core.inputs import NOTHING, Inputs, Reading, Request, Weigh
from dryward.core.program import Ends, Piece, Program, Step
from dryward.record.moments import Mark, RunBegan, RunEnded, ScaleCalibration, Session, Stamp
from dryward.record.writer import RecordWriter

UTC_S = 1_760_000_000.0  # 2025-10-09T08:53:20Z


@dataclass(frozen=True, slots=True)
class ToyState:
    """Stands for the engine's state: the record does not look into it."""

    tick: int
    trips: tuple[str, ...] = ()
    seen: dict[str, float] = field(default_factory=dict)


CHAMBER = Chamber(
    name="shed-box",
    sensors=(
        Sensor(name="air", role="control-air", device="d1"),
        Sensor(name="top", role="limit-air", device="d2"),
        Sensor(name="damp", role="humidity", device="d3"),
    ),
    outputs=(Output(name="heater", power_w=500.0), Output(name="fan")),
    scales=(Scale(name="hook", device="d4"),),
)
PROGRAM = Program(
    name="two-step",
    steps=(
        Step(name="warm", ends=Ends(dwell_h=1.0), air_c=50.0),
        Step(name="dry", ends=Ends(own_target=True), air_c=60.0),
    ),
    cap_h=90.0,
)
PIECES = (Piece(name="loin-a", green_g=1000.0), Piece(name="loin-b", green_g=812.5, target_loss_pct=38.0))


def stamp(tick: int, *, off_s: float = 0.0) -> Stamp:
    return Stamp(utc_s=UTC_S + tick + off_s, boottime_s=500.0 + tick, synchronised=True)


def session(*, first_tick: int = 0, **more: Any) -> Session:
    return Session(
        chamber=CHAMBER, first_tick=first_tick, stamp=stamp(first_tick), boot_id="boot-1", version="0", **more
    )


def writer(
    path: Path,
    *,
    first_tick: int = 0,
    threaded: bool = False,
    start_state: object = None,
    live_run: tuple[int, RunBegan] | None = None,
    scale_calibrations: tuple[ScaleCalibration, ...] = (),
    **more: Any,
) -> RecordWriter:
    return RecordWriter(
        path,
        session(
            first_tick=first_tick, start_state=start_state, live_run=live_run, scale_calibrations=scale_calibrations
        ),
        threaded=threaded,
        **more,
    )


def air(tick: int, value: float | None = 50.25, *, fault: str = "") -> Inputs:
    return Inputs(readings=(Reading("air", value, tick - 0.125, fault),))


def weigh(tick: int, piece: str = "loin-a", weight_g: float = 900.0) -> tuple[Inputs, Commands]:
    """A weigh-in typed by somebody, and the engine's answer."""
    asked = Request(request_id=f"q{tick}", ask=Weigh(piece=piece, weight_g=weight_g), who="ann")
    return Inputs(requests=(asked,)), Commands(
        replies=(Reply(request_id=f"q{tick}", accepted=True, text="taken"),), keep=True
    )


def put(
    book: RecordWriter,
    tick: int,
    inputs: Inputs = NOTHING,
    commands: Commands | None = None,
    *,
    marks: Iterable[Mark] = (),
    **more: Any,
) -> None:
    book.put(tick, stamp(tick), inputs, commands or Commands(), ToyState(tick), marks=tuple(marks), **more)


def began(run_id: str = "r1", *, state: object = None) -> RunBegan:
    return RunBegan(run_id=run_id, program=PROGRAM, pieces=PIECES, state_before=state)


def ended(
    run_id: str = "r1", *, state: str = "complete", reason: str = "all pieces reached their target", **last_g: float
) -> RunEnded:
    return RunEnded(
        run_id=run_id,
        end_state=state,
        end_reason=reason,
        last_g={name.replace("_", "-"): g for name, g in last_g.items()},
    )


def event(text: str = "something happened", *, severity: Any = "log", kind: str = "test", **more: Any) -> Event:
    return Event(kind=kind, severity=severity, text=text, **more)
