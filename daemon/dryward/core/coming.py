"""The air that a program still has in store, as far as it can be known: what a forecast goes on with.

A step that ends by time ends when the rest of its dwell is over, the air taken to stay in its band. A step that ends by
loss ends when the pieces will have lost so much, which only a forecast can tell: it is asked for (``Reach``). A step
that ends by a core temperature is taken to last until its cap.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import inf

from dryward.core.program import Ends, Program, Step
from dryward.core.progress import HOUR_S, Run
from dryward.science.pace import AirAt

RAMP_ROWS = 4
"""A ramp is told in so many even stages."""

Reach = Callable[[float | None, str, Sequence[AirAt]], float]
"""When all (or any) pieces will have lost so many per cent (None: each its own target) in that air; s, inf for never."""


@dataclass(frozen=True, slots=True)
class Coming:
    """Air to come, each row from its time on, and when the program is over whatever was reached; s on the chamber clock."""

    airs: tuple[AirAt, ...]
    over_s: float


def coming(run: Run, air_c: float | None, reach: Reach, now: float) -> Coming:
    """Return what is still to come. ``air_c``: the air as it is now, where it is known.

    ``over_s`` is inf for a program that ends only with its pieces, and never later than its cap.
    """
    program = run.program
    if program is None:
        return Coming((), inf)
    cap_s = run.started_s + program.cap_h * HOUR_S
    airs: list[AirAt] = []
    at_s, step_s, dwell_s = now, run.step_s, run.dwell_s
    if run.step_index >= len(program.steps):
        return Coming((), min(cap_s, now + max(0.0, program.at_end.max_h * HOUR_S - run.step_s)))
    for step in program.steps[run.step_index :]:
        airs += _rows(step, air_c, at_s)
        air_c = step.air_c if step.air_c is not None else air_c
        at_s = _ends_s(step.ends, airs, reach, at_s=at_s, step_s=step_s, dwell_s=dwell_s)
        if at_s >= cap_s:
            return Coming(tuple(airs), cap_s)
        step_s = dwell_s = 0.0
    return Coming((*airs, *_warm(program, at_s)), min(cap_s, at_s + _warm_s(program)))


def _rows(step: Step, air_c: float | None, at_s: float) -> list[AirAt]:
    """The air of one step: its setpoint at once, or by its ramp from the air before it."""
    if step.air_c is None:
        return []
    lasts_s = 0.0
    if step.ramp_k_per_h is not None and air_c is not None:
        lasts_s = abs(step.air_c - air_c) / step.ramp_k_per_h * HOUR_S
    if lasts_s < HOUR_S / 4.0 or air_c is None:
        return [AirAt(t_s=at_s, air_c=step.air_c, rh_pct=step.rh_pct)]
    stages = [(k + 0.5) / RAMP_ROWS for k in range(RAMP_ROWS)]
    rows = [
        AirAt(t_s=at_s + k * lasts_s / RAMP_ROWS, air_c=air_c + share * (step.air_c - air_c), rh_pct=step.rh_pct)
        for k, share in enumerate(stages)
    ]
    return [*rows, AirAt(t_s=at_s + lasts_s, air_c=step.air_c, rh_pct=step.rh_pct)]


def _ends_s(ends: Ends, airs: Sequence[AirAt], reach: Reach, *, at_s: float, step_s: float, dwell_s: float) -> float:
    """When a step that is in force at ``at_s`` will be over; inf when nothing that is known ends it."""
    cap_s = inf if ends.cap_h is None else at_s + max(0.0, ends.cap_h * HOUR_S - step_s)
    met: list[float] = []
    if ends.dwell_h is not None:
        met.append(at_s + max(0.0, ends.dwell_h * HOUR_S - dwell_s))
    if ends.core_c is not None:
        met.append(inf)
    if ends.loss_pct is not None:
        met.append(max(at_s, reach(ends.loss_pct, ends.pieces, airs)))
    if ends.own_target:
        met.append(max(at_s, reach(None, ends.pieces, airs)))
    if not met:
        return cap_s
    return min(cap_s, max(met) if ends.when == "all" else min(met))


def _warm(program: Program, at_s: float) -> tuple[AirAt, ...]:
    if program.at_end.action != "keep-warm" or program.at_end.air_c is None or at_s == inf:
        return ()
    return (AirAt(t_s=at_s, air_c=program.at_end.air_c),)


def _warm_s(program: Program) -> float:
    return program.at_end.max_h * HOUR_S if program.at_end.action == "keep-warm" else 0.0
