"""The six states of a run in which every fault is tried, each brought about in a few simulated minutes."""

from __future__ import annotations

from dataclasses import dataclass, replace

from dryward.core.chamber import Limits
from dryward.core.inputs import Hold, Resume
from dryward.core.phases import Phase
from dryward.core.program import Ends, Program, Step
from dryward_hardware.twin.faults import Fault
from dryward_hardware.twin.options import Room
from tests.faults.stand import Fit, Model, Stand

LONG = Ends(dwell_h=100.0)
ROOM_C = 22.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """A state: how it is brought about, and the second in which the fault begins."""

    name: str
    program: Program
    start_c: float
    phase: Phase
    fault_s: int
    last_step: bool = False
    in_band: bool = False
    hold_s: int | None = None
    resume_s: int | None = None


def _program(*steps: Step) -> Program:
    return Program(name="matrix", cap_h=300.0, steps=steps)


_HOT = _program(Step(name="hot", air_c=80.0, ends=LONG), Step(name="after", air_c=70.0, ends=LONG))

CASES: tuple[Case, ...] = (
    Case(name="cold start", program=_HOT, start_c=ROOM_C, phase="running", fault_s=40),
    Case(
        name="ramp",
        program=_program(
            Step(name="up", air_c=80.0, ramp_k_per_h=60.0, ends=LONG), Step(name="after", air_c=70.0, ends=LONG)
        ),
        start_c=50.0,
        phase="running",
        fault_s=420,
    ),
    Case(name="dwell", program=_HOT, start_c=78.0, phase="running", fault_s=1200, in_band=True),
    Case(
        name="last step",
        program=_program(Step(name="hot", air_c=80.0, ends=Ends(cap_h=0.1)), Step(name="last", air_c=76.0, ends=LONG)),
        start_c=78.0,
        phase="running",
        fault_s=1500,
        last_step=True,
        in_band=True,
    ),
    Case(name="held", program=_HOT, start_c=78.0, phase="held", fault_s=900, hold_s=600),
    Case(name="resuming", program=_HOT, start_c=78.0, phase="restarting", fault_s=1000, hold_s=600, resume_s=900),
)
BY_NAME = {c.name: c for c in CASES}


def cool(case: Case) -> Case:
    """The same state in a cool program, a few kelvin above the room."""
    cooler = {80.0: 30.0, 76.0: 29.0, 70.0: 28.0}
    steps = tuple(
        replace(s, air_c=cooler[s.air_c or 0.0], ramp_k_per_h=None if s.ramp_k_per_h is None else 12.0)
        for s in case.program.steps
    )
    start_c = ROOM_C if case.start_c == ROOM_C else 26.0 if case.start_c < 60.0 else 30.0
    if case.resume_s is None:
        return replace(case, program=_program(*steps), start_c=start_c)
    return replace(
        case, program=_program(*steps), start_c=start_c, resume_s=1500, fault_s=1540
    )  # so mild a chamber cools slowly


def brought(
    case: Case,
    model: Model,
    *,
    fit: Fit,
    limits: Limits,
    faults: tuple[Fault, ...] = (),
    seed: int = 1,
    at_s: int | None = None,
) -> Stand:
    """Return a chamber in the state, in the second before the fault. Faults of the simulation count from that second."""
    begins_s = case.fault_s if at_s is None else at_s
    shifted = tuple(replace(f, at_s=f.at_s + begins_s - 1.0) for f in faults)
    stand = Stand(
        model,
        fit=fit,
        limits=limits,
        faults=shifted,
        room=Room(air_c=ROOM_C),
        start_c=case.start_c,
        meat_c=min(40.0, case.start_c),
        seed=seed,
    )
    stand.begin(case.program)
    while stand.seconds < begins_s - 1:
        if stand.seconds == case.hold_s:
            stand.ask(Hold(reason="matrix"))
        elif stand.seconds == case.resume_s:
            stand.ask(Resume())
        stand.tick()
    if begins_s == case.fault_s:
        run = stand.state.run
        assert run.phase == case.phase, (case.name, model, run.phase)
        assert (run.step_index == len(case.program.steps) - 1) is case.last_step, (case.name, model)
        assert run.in_band or not case.in_band, (case.name, model, stand.state.sensors[0].value)
    return stand
