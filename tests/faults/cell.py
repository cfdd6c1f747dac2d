"""One cell of the fault matrix: what was measured, and how a chamber is watched until a fault is noticed.

The clock of a row is the one its entry in the table uses: seconds, seconds of full power, kelvin-seconds.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import inf

from dryward.core.inputs import Resume
from dryward.core.phases import MAY_HEAT
from tests.faults.stand import Fit, Model, Stand
from tests.faults.states import Case

TICK_S = 1.0
SAMPLE_S = 2.0
ONE_TICK_KS = 20.0  # what a second counts for, far below the band
TUNED = Fit(tuned=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """What was measured in one state on one chamber. ``took`` and ``limit`` in ``unit``; ``wrong`` says what failed besides."""

    took: float
    limit: float
    unit: str = "s"
    noticed: str = ""
    wrong: str = ""

    @property
    def good(self) -> bool:
        """Whether it was noticed in time and everything else was right too."""
        return self.took <= self.limit and not self.wrong


Experiment = Callable[[Case, Model], Cell | str]


def noticed(stand: Stand, keys: tuple[str, ...]) -> str:
    """Return the first of the alarms ``keys`` that is in force, or ''."""
    return next((a.key for a in stand.state.alarms if a.key in keys and a.phase != "pending"), "")


def watch(
    stand: Stand, keys: tuple[str, ...], *, longest_s: float, off_within_s: float = inf
) -> tuple[float, str, str]:
    """Tick until one of ``keys`` is raised. Return after how many seconds, which, and whether heat went on too long."""
    began, wrong = stand.seconds, ""
    while stand.seconds - began < longest_s:
        stand.tick()
        took_s = float(stand.seconds - began)
        if stand.heating and took_s > off_within_s and not wrong:
            wrong = f"still heating after {took_s:.0f} s"
        if found := noticed(stand, keys):
            return took_s, found, wrong or aftermath(stand, found)
    return inf, "", wrong or f"nothing of {', '.join(keys)} within {longest_s:.0f} s"


def aftermath(stand: Stand, key: str) -> str:
    """Say what is wrong with the reaction: a trip takes heat and contactor away, holds or ends the run, and stays."""
    alarm = next(a for a in stand.state.alarms if a.key == key)
    if not alarm.fault.trips:
        return ""
    stand.ticks(3)
    on = stand.last.on
    if {"heater", "contactor"} & on:
        return f"{', '.join(sorted(on))} on after {key}"
    if not {"buzzer", "lamp"} <= on:
        return f"nobody called after {key}"
    phase = stand.state.run.phase
    if phase not in (("aborted",) if alarm.fault.effect == "abort" else ("held",)):
        return f"the run is {phase} after {key}"
    stand.ask(Resume())
    stand.tick()
    return "resumed without acknowledgement and reset" if stand.last.replies[0].accepted else ""


def heats(case: Case) -> bool:
    """Whether heat may be wanted in this state."""
    return case.phase in MAY_HEAT
