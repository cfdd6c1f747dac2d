"""The relay test inside the guarded engine: a run like any other, whose heater swings instead of being held.

It has a program, so every limit of a run watches over it; it asks for heat, and whoever may take heat from a run may take
it from this one. Whatever disturbs the swing ends it: a hold, a stop, a trip, the door, a restart. It never goes on by
itself. Readings are not kept here, the record has them; what they show is worked out there (service.tuned).
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from typing import Literal, NamedTuple

from dryward.core.chamber import Plant
from dryward.core.commands import Event
from dryward.core.control import Air, ControlState, cut
from dryward.core.frozen import frozen
from dryward.core.heat_state import NO_HEAT
from dryward.core.inputs import Tune
from dryward.core.layout import Layout
from dryward.core.phases import ENDED, MAY_HEAT
from dryward.core.program import Ends, Program, Step
from dryward.core.progress import Run, end
from dryward.core.trust import SensorState
from dryward.core.tuning import RelayTest, advance, begin

NAME = "relay-test"
BAND_K = 25.0  # a swing is no dwell
REACH_K = 6.0  # an empty chamber with too strong a heater swings so far above: its step is taken to be so much hotter
LONGEST_H = 36.0
LEFT_ALONE = frozenset({"cooler", "humidifier", "dehumidifier"})
RESTARTED = "dryward was started again in the middle of a swing"


@frozen
class Tuned:
    """The figures a person has accepted; they stand in the place of those in the chamber file."""

    plant: Plant
    cycle_s: float
    pace: Literal["calm", "tight"] = "calm"


class Swung(NamedTuple):
    """What one tick of a test leaves."""

    run: Run
    test: RelayTest | None
    asked: frozenset[str]
    control: ControlState


@lru_cache(maxsize=4)
def fitted(layout: Layout, tuned: Tuned) -> Layout:
    """Return the layout with accepted figures in it."""
    control = replace(layout.chamber.control, plant=tuned.plant, cycle_s=tuned.cycle_s, pace=tuned.pace)
    return replace(layout, chamber=replace(layout.chamber, control=control))


def outlives(layout: Layout, tuned: Tuned | None) -> Tuned | None:
    """Return the accepted figures, unless the chamber file has as new a tuning of its own."""
    written = layout.chamber.control.plant
    if tuned is not None and written is not None and written.tuned_on >= tuned.plant.tuned_on:
        return None
    return tuned


def started(
    layout: Layout, ask: Tune, sensors: tuple[SensorState, ...], *, loaded: bool, now: float
) -> tuple[RelayTest, Run]:
    """Return the test, refused with every reason or running, and the run that it is."""

    def good(index: int | None) -> float | None:
        return None if index is None else sensors[index].good

    door_open = layout.door is not None and sensors[layout.door].value == 1.0
    test = begin(
        layout.chamber, setpoint_c=ask.setpoint_c, air_c=good(layout.air), room_c=good(layout.ambient), door_open=door_open,
        loaded=loaded, loaded_allowed=ask.meat_may_stay, now=now,
    )  # fmt: skip
    top_c = ask.setpoint_c if loaded else min(ask.setpoint_c + REACH_K, layout.chamber.limits.max_air_c)
    step = Step(name=NAME, air_c=top_c, band_k=BAND_K, ends=Ends(cap_h=LONGEST_H))
    program = Program(name=NAME, steps=(step,), cap_h=LONGEST_H)
    return test, Run(phase="running", run_id=ask.run_id, program=program, started_s=now)


def is_test(run: Run) -> bool:
    """Say whether the run is a relay test."""
    return run.program is not None and run.program.name == NAME


def broken_off(run: Run) -> Run:
    """Return the run of a test after a restart: on its way to its end, with the heat off."""
    return replace(run, phase="stopping", why=RESTARTED) if is_test(run) and run.phase in MAY_HEAT else run


def swing(
    test: RelayTest,
    run: Run,
    air: Air,
    asked: frozenset[str],
    control: ControlState,
    events: list[Event],
    *,
    no_heat: str,
    now: float,
) -> Swung:
    """Go on by one tick: the heater by the relay, whatever the loop asked; at the end the run is over and told.

    ``no_heat`` is why heat was withheld in the tick before.
    """
    wanted = False
    if test.outcome == "running":
        if run.phase != "running":
            test = replace(test, outcome="refused", reason=run.why or f"the run is {run.phase}")
        elif no_heat and test.heater_on and test.turns_s:
            test = replace(test, outcome="refused", reason=f"the heat was taken away: {no_heat}")
        else:
            wanted, test = advance(test, air.air_c, now, door_open=air.door_open)
            # The first reading tells how far the air has risen; the others are on record.
            test = replace(test, times_s=test.times_s[:1], readings_c=test.readings_c[:1])
        if test.outcome != "running":
            run = _over(test, run, events, now)
    elif run.phase in ENDED or run.program is None:
        return Swung(Run() if is_test(run) else run, None, asked - {"heater"}, replace(control, heat=NO_HEAT, duty=0.0))
    if disturbing := asked & LEFT_ALONE:
        control = cut(control, disturbing, now)
    asked -= LEFT_ALONE | {"heater"}
    if wanted:
        asked |= {"heater", "fan"}
    control = replace(control, heat=NO_HEAT, duty=1.0 if wanted else 0.0, heated_s=now if wanted else control.heated_s)
    return Swung(run, test, asked, control)


def _over(test: RelayTest, run: Run, events: list[Event], now: float) -> Run:
    if test.outcome == "done":
        swings = (len(test.turns_s) - 1) // 2
        events.append(
            Event(
                kind="tune-done", subject=run.run_id, severity="notice",
                text=f"The relay test at {test.setpoint_c:g} degC is over after {swings} swings. The heat is off.",
                meaning="Nothing has changed yet.",
                advice="'dryward tune show' says what it found, 'dryward tune accept' uses it.",
            )
        )  # fmt: skip
        return end(run, "finished", f"the relay test is over after {swings} swings", now)
    events.append(
        Event(
            kind="tune-refused", subject=run.run_id, severity="warning", text=f"The relay test was broken off: {test.reason}. The heat is off.",
            meaning="Nothing has changed: the chamber is held as before.", advice="Put that right, then 'dryward tune start' again.",
        )
    )  # fmt: skip
    return end(run, "stop", f"the relay test was broken off: {test.reason}", now)
