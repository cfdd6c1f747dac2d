"""Where the run stands in its program: time in band, which step, when it is over.

The step number never goes back. Dwell counts only while the air is fresh and inside the step's band. The program's
cap ends every run.
"""

from __future__ import annotations

from dataclasses import replace

from dryward.core.chamber import Limits
from dryward.core.commands import Event
from dryward.core.frozen import frozen
from dryward.core.phases import ACTIVE, Phase, Trigger, follow
from dryward.core.program import Ends, Program, Step
from dryward.core.weighing import PieceState, has_lost

HOUR_S = 3600.0


@frozen
class Run:
    """The run and its place in the program. ``step_index`` equal to the number of steps means: keeping warm."""

    phase: Phase = "idle"
    run_id: str = ""
    program: Program | None = None
    step_index: int = 0
    step_s: float = 0.0  # time spent in this step while running
    dwell_s: float = 0.0  # of which inside the band
    in_band: bool = False
    started_s: float = 0.0
    ended_s: float | None = None
    why: str = ""  # why it is held or has ended
    step_why: str = ""  # what ended the step before


def current_step(run: Run) -> Step | None:
    """Return the step in force; None when there is no run or it is keeping warm."""
    if run.program is None or run.step_index >= len(run.program.steps):
        return None
    return run.program.steps[run.step_index]


def target_air_c(run: Run) -> float | None:
    """Return the air temperature the program wants now, degC, or None."""
    if run.program is None:
        return None
    step = current_step(run)
    return step.air_c if step is not None else run.program.at_end.air_c


def top_air_c(program: Program) -> float | None:
    """Return the hottest setpoint of the program, degC, or None when it only watches."""
    wanted = [s.air_c for s in program.steps if s.air_c is not None]
    if program.at_end.action == "keep-warm" and program.at_end.air_c is not None:
        wanted.append(program.at_end.air_c)
    return max(wanted, default=None)


def highest_c(limits: Limits, top_c: float | None) -> float:
    """Return the limit of F11 for a program whose hottest step is ``top_c``; None: without one."""
    return limits.max_air_c if top_c is None else min(limits.max_air_c, top_c + limits.over_top_step_k)


def inside_band(step: Step, air_c: float | None) -> bool:
    """Say whether the air lies in the step's band; a step without any band is always inside."""
    if step.air_c is not None:
        return air_c is not None and abs(air_c - step.air_c) <= step.band_k
    if step.safe_air_low_c is None and step.safe_air_high_c is None:
        return True
    if air_c is None:
        return False
    low_c = -1e9 if step.safe_air_low_c is None else step.safe_air_low_c
    high_c = 1e9 if step.safe_air_high_c is None else step.safe_air_high_c
    return low_c <= air_c <= high_c


def advance(
    run: Run,
    pieces: tuple[PieceState, ...],
    air_c: float | None,
    core_c: float | None,
    *,
    waits: bool,
    dt_s: float,
    now: float,
) -> tuple[Run, tuple[Event, ...]]:
    """Move the run on by ``dt_s``. ``waits`` stops the step's clock (air fallen out of its band, F9)."""
    if run.phase not in ACTIVE or run.program is None:
        return run, ()
    if now - run.started_s >= run.program.cap_h * HOUR_S:
        why = f"the program's cap of {run.program.cap_h:g} h was reached"
        return finish(run, pieces, why, now) if run.phase == "running" else (end(run, "stop", why, now), ())
    if run.phase != "running":
        return run, ()
    step = current_step(run)
    if step is None:
        return _keep_warm(run, pieces, dt_s, now)
    inside = inside_band(step, air_c)
    run = replace_clock(run, dt_s, inside=inside and not waits)
    if pieces and all(p.status != "drying" for p in pieces):
        return _steps_over(run, pieces, "every piece has reached its target or was taken out", now)
    done_why = over(step.ends, run, pieces, core_c)
    return (run, ()) if done_why is None else _next_step(run, pieces, step, done_why, now)


def replace_clock(run: Run, dt_s: float, *, inside: bool) -> Run:
    """Count ``dt_s`` for the step, and for its dwell when ``inside``."""
    return Run(
        run.phase, run.run_id, run.program, run.step_index, run.step_s + dt_s, run.dwell_s + dt_s if inside else run.dwell_s,
        inside, run.started_s, run.ended_s, run.why, run.step_why,
    )  # fmt: skip


def over(ends: Ends, run: Run, pieces: tuple[PieceState, ...], core_c: float | None) -> str | None:
    """Say why the step is over, or None while it is not."""
    if ends.cap_h is not None and run.step_s >= ends.cap_h * HOUR_S:
        return f"its cap of {ends.cap_h:g} h was reached"
    met: list[str | None] = []
    if ends.dwell_h is not None:
        met.append(f"{ends.dwell_h:g} h in the band are over" if run.dwell_s >= ends.dwell_h * HOUR_S else None)
    if ends.core_c is not None:
        met.append(f"the core reached {ends.core_c:g} degC" if core_c is not None and core_c >= ends.core_c else None)
    if ends.loss_pct is not None or ends.own_target:
        met.append(_loss_met(ends, pieces))
    if not met:
        return None
    if ends.when == "all":
        return " and ".join(m for m in met if m) if all(met) else None
    return next((m for m in met if m), None)


def _loss_met(ends: Ends, pieces: tuple[PieceState, ...]) -> str | None:
    drying = [p for p in pieces if p.status != "pulled"]
    if not drying:
        return None
    reached = [
        p.status == "done" if ends.own_target else ends.loss_pct is not None and has_lost(p, ends.loss_pct)
        for p in drying
    ]
    if not (all(reached) if ends.pieces == "all" else any(reached)):
        return None
    who = "every piece" if ends.pieces == "all" else "one piece"
    what = "its target loss" if ends.own_target else f"{ends.loss_pct:g} % loss"
    return f"{who} has {what}"


def _next_step(
    run: Run, pieces: tuple[PieceState, ...], step: Step, why: str, now: float
) -> tuple[Run, tuple[Event, ...]]:
    program = run.program
    assert program is not None
    index = run.step_index + 1
    if index >= len(program.steps):
        return _steps_over(run, pieces, f"the last step is over: {why}", now)
    following = program.steps[index]
    event = Event(
        kind="step-begun",
        subject=following.name,
        severity="notice",
        text=f"Step {index + 1} of {len(program.steps)}, {following.name}, has begun: {step.name} is over, {why}.",
        value=float(index),
    )
    return replace(run, step_index=index, step_s=0.0, dwell_s=0.0, in_band=False, step_why=why), (event,)


def _steps_over(run: Run, pieces: tuple[PieceState, ...], why: str, now: float) -> tuple[Run, tuple[Event, ...]]:
    program = run.program
    assert program is not None
    if program.at_end.action == "off":
        return finish(run, pieces, why, now)
    event = Event(
        kind="keep-warm-begun",
        severity="notice",
        text=f"Drying is over ({why}); the air is kept at {program.at_end.air_c:g} degC for at most {program.at_end.max_h:g} h.",
        meaning="The pieces go on losing weight while they are kept warm.",
        advice="Take the pieces out, cool them quickly, keep them cold.",
    )
    return replace(run, step_index=len(program.steps), step_s=0.0, dwell_s=0.0, in_band=False, why=why, step_why=why), (
        event,
    )


def _keep_warm(run: Run, pieces: tuple[PieceState, ...], dt_s: float, now: float) -> tuple[Run, tuple[Event, ...]]:
    program = run.program
    assert program is not None
    run = replace(run, step_s=run.step_s + dt_s)
    gone = bool(pieces) and all(p.status == "pulled" for p in pieces)
    if gone or run.step_s >= program.at_end.max_h * HOUR_S:
        why = "every piece was taken out" if gone else f"kept warm for {program.at_end.max_h:g} h"
        return finish(run, pieces, f"{run.why}; {why}", now)
    return run, ()


def finish(run: Run, pieces: tuple[PieceState, ...], why: str, now: float) -> tuple[Run, tuple[Event, ...]]:
    """End the run as complete, saying which pieces are short of their target."""
    short = [p.piece.name for p in pieces if p.status == "drying"]
    text = f"The run is complete: {why}. The heat is off."
    if short:
        text += f" Short of their target: {', '.join(short)}."
    event = Event(
        kind="run-complete",
        subject=run.run_id,
        severity="warning" if short else "notice",
        text=text,
        meaning="The pieces cool in the chamber from now on; lost weight alone does not make them keep.",
        advice="Take them out, cool them to 4.4 degC or below without delay, keep them cold.",
    )
    return end(run, "finished", why, now), (event,)


def end(run: Run, trigger: Trigger, why: str, now: float) -> Run:
    """Lead the run to its end by ``trigger`` (finished, stop or abort); unchanged where the table has no way."""
    phase = follow(run.phase, trigger)
    if phase is None:
        return run
    return replace(run, phase=phase, why=why, ended_s=now)
