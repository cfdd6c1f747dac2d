"""One judgement of the guard at a time, with everything it knows given: for the exact limits of the fault contract."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from dryward.core.alarms import Condition
from dryward.core.chamber import Control, Limits, Plant, Sensor
from dryward.core.guard import GuardState, Verdict, judge
from dryward.core.inputs import Notice
from dryward.core.layout import Layout, lay_out
from dryward.core.phases import Phase
from dryward.core.program import Ends, Program, Step
from dryward.core.progress import Run
from dryward.core.trust import SensorState
from tests.core.bench_chamber import AIR, DOOR, HUMIDITY, LIMIT, chamber

NOW = 10_000.0
FAN = Sensor(name="fan-turns", role="fan-feedback", device="frame", reads="turns", rated_low=0.0, rated_high=1.0)
CONTACTOR = Sensor(
    name="mains", role="contactor-feedback", device="frame", reads="closed", rated_low=0.0, rated_high=1.0
)
ROOM = Sensor(name="room", role="ambient", device="wall", reads="temperature")
EVERY = (AIR, LIMIT, HUMIDITY, DOOR, FAN, CONTACTOR, ROOM)
IDLE = Run()
OUTPUTS = ("heater", "fan", "contactor")


def known(value: float, *, before: float | None = None, age_s: float = 0.0) -> SensorState:
    """A fresh value, the same in the sample before unless told otherwise."""
    sampled_s = NOW - age_s
    return SensorState(
        value, sampled_s, raw=value, raw_before=value if before is None else before, raw_s=sampled_s, quality="fresh"
    )


def a_step(air_c: float | None = 80.0, **more: object) -> Step:
    return Step(name="hot", air_c=air_c, **({"ends": Ends(own_target=True)} | more))  # type: ignore[arg-type]


def a_run(*steps: Step, phase: Phase = "running", **more: object) -> Run:
    """A run in the first of these steps."""
    made = Program(name="try", steps=steps or (a_step(),), cap_h=100.0)
    return Run(phase=phase, run_id="r1", program=made, **more)  # type: ignore[arg-type]


def layout(
    *,
    limits: Limits | None = None,
    plant: Plant | None = None,
    outputs: Iterable[str] = OUTPUTS,
    without: Iterable[str] = (),
) -> Layout:
    """A chamber with every sensor that the guard looks at, but for those named in ``without``."""
    sensors = [s for s in EVERY if s.name not in without]
    return lay_out(chamber(sensors=sensors, outputs=outputs, limits=limits, control=Control(plant=plant)))


def look(
    values: Mapping[str, float | SensorState | None],
    *,
    run: Run = IDLE,
    state: GuardState | None = None,
    notices: tuple[Notice, ...] = (),
    on: Iterable[str] = (),
    setpoint_c: float | None = None,
    duty: float = 0.0,
    dt_s: float = 1.0,
    limits: Limits | None = None,
    plant: Plant | None = None,
    outputs: Iterable[str] = OUTPUTS,
) -> Verdict:
    """Judge one tick at ``NOW`` in a chamber with the sensors that have a value; None: fitted and never read."""
    made = layout(limits=limits, plant=plant, outputs=outputs, without={s.name for s in EVERY} - set(values))
    sensors = []
    for sensor in made.chamber.sensors:
        value = values[sensor.name]
        if value is None:
            value = SensorState()
        sensors.append(value if isinstance(value, SensorState) else known(value))
    return judge(
        made,
        state or GuardState(),
        run=run,
        sensors=tuple(sensors),
        notices=notices,
        was_on=frozenset(on),
        setpoint_c=setpoint_c,
        duty=duty,
        dt_s=dt_s,
        now=NOW,
    )


def told(verdict: Verdict) -> dict[str, Condition]:
    """What was found, by key, without what is only near."""
    return {c.key: c for c in verdict.conditions if not c.near}


def near(verdict: Verdict) -> set[str]:
    """What is within its dead band only."""
    return {c.key for c in verdict.conditions if c.near}
