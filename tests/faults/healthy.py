"""Healthy hours made as hard as they come: what a guard must put up with, drawn from a seed.

Cold starts, steps up and down, ramps, holds and resumes, doors opened for a minute, mains that wander by 20 % or jump by
10 %, readings of which 30 % fail, noise, day and night, with and without a door switch, before and after tuning.
"""

from __future__ import annotations

from dataclasses import dataclass
from random import Random

from dryward.core.inputs import Hold, Resume
from dryward.core.program import Ends, Program, Step
from dryward_hardware.twin.faults import Fault
from dryward_hardware.twin.options import Room
from tests.faults.stand import Fit, Model, Stand

REACH_K: dict[Model, float] = {"small-fan-box": 58.0, "slow-box": 58.0, "overpowered": 58.0, "dryer": 44.0}
"""So far above the room a heater holds its air even when the mains are 20 % low; the dryer with wet meat in it."""
CYCLES_S: dict[Model, tuple[float, ...]] = {
    "small-fan-box": (4.0, 20.0, 40.0, 60.0),
    "slow-box": (4.0, 40.0, 60.0, 90.0),
    "overpowered": (4.0, 20.0, 40.0),
    "dryer": (4.0, 20.0, 40.0),
}
"""Solid-state relays, and what ``dryward tune`` advises for mechanical ones."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Story:
    """What happens in one healthy stretch."""

    model: Model
    seed: int
    hours: float
    fit: Fit
    room: Room
    start_c: float
    program: Program
    mains: tuple[Fault, ...]
    doors: tuple[int, ...]  # second at which a door is opened, for a minute
    holds: tuple[tuple[int, int], ...]  # second of a hold, second of its resume


@dataclass(frozen=True, slots=True, kw_only=True)
class Lived:
    """How it went: hours lived, trips (there must be none), alarms."""

    hours: float
    trips: tuple[str, ...]
    alarms: tuple[str, ...]
    doors: int
    steps: int


def story(model: Model, seed: int, hours: float) -> Story:
    """Draw a story; the same seed draws the same."""
    chance = Random(f"{model} {seed}")
    room_c = chance.uniform(12.0, 28.0)
    seconds = int(hours * 3600.0)
    top_c = min(82.0, room_c + REACH_K[model] - 4.0)
    tuned = chance.random() < 0.7
    steps, left_h = [], hours
    if not tuned:  # an untuned heat loop learns its chamber from a cold start
        steps, left_h = [Step(name="cold", air_c=round(top_c - 4.0, 1), ends=Ends(dwell_h=1.0, cap_h=5.0))], hours - 1.0
    while left_h > 0.0 and len(steps) < 24:
        dwell_h = chance.choice((0.4, 0.8, 1.5, 3.0))
        ramp = chance.choice((None, None, 5.0, 20.0, 60.0)) if tuned else None
        air_c = round(chance.uniform(40.0, top_c), 1)
        steps.append(
            Step(name=f"s{len(steps)}", air_c=air_c, ramp_k_per_h=ramp, ends=Ends(dwell_h=dwell_h, cap_h=dwell_h + 4.0))
        )
        left_h -= dwell_h
    fit = Fit(
        door=model == "overpowered" or chance.random() < 0.7,
        feedback=chance.random() < 0.7,
        contactor=chance.random() < 0.5,
        ambient=chance.random() < 0.7,
        tuned=tuned,
        cycle_s=chance.choice(CYCLES_S[model]),
        failed_share=0.3,
    )
    swing = chance.choice((0.0, 0.2))
    mains, at = [], chance.randrange(600, 7200)
    while at < seconds and not swing:
        until = at + chance.randrange(600, 7200)
        mains.append(Fault(at_s=float(at), until_s=float(until), kind="mains", value=chance.choice((0.9, 1.1))))
        at = until + chance.randrange(600, 7200)
    doors, at = [], chance.randrange(300, 5400)
    while at < seconds:
        doors.append(at)
        at += chance.randrange(900, 10800)
    holds = []
    if chance.random() < 0.5:
        began = chance.randrange(600, max(601, seconds - 3600))
        holds.append((began, began + chance.randrange(60, 3600)))
    return Story(
        model=model,
        seed=seed,
        hours=hours,
        fit=fit,
        room=Room(
            air_c=room_c, day_swing_k=chance.choice((0.0, 4.0)), rh_pct=chance.uniform(30.0, 80.0), mains_swing=swing
        ),
        start_c=room_c + chance.choice((0.0, 0.0, -5.0, 20.0)),
        program=Program(name="healthy", cap_h=1000.0, steps=tuple(steps)),
        mains=tuple(mains),
        doors=tuple(doors),
        holds=tuple(holds),
    )


def live(told: Story) -> Lived:
    """Live through it in 1 s ticks."""
    stand = Stand(told.model, fit=told.fit, faults=told.mains, room=told.room, start_c=told.start_c, seed=told.seed)
    stand.begin(told.program)
    happens: dict[int, str] = {}
    for at in told.doors:
        happens[at], happens[at + 60] = "open", "close"
    for hold, resume in told.holds:
        happens[hold], happens[resume] = "hold", "resume"
    end = int(told.hours * 3600.0)
    while stand.seconds < end and stand.state.run.phase not in ("complete", "stopped", "aborted"):
        match happens.get(stand.seconds):
            case "open":
                stand.twin.open_door()
            case "close":
                stand.twin.close_door()
            case "hold":
                stand.ask(Hold())
            case "resume":
                stand.ask(Resume())
            case _:
                pass
        stand.tick()
    said = [e for e in stand.events if e.kind in ("alarm", "trip")]
    return Lived(
        hours=stand.seconds / 3600.0,
        trips=tuple(f"{e.subject} {e.text}" for e in said if e.kind == "trip"),
        alarms=tuple(e.subject for e in said if e.kind == "alarm"),
        doors=len(told.doors),
        steps=stand.state.run.step_index,
    )
