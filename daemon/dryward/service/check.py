"""The preflight before meat goes in: what was found, how grave it is, what cures it.

Here: what a finding is, and what chamber file and program say by themselves. ``check_sensors``, ``check_machine`` and
``check_lines`` look at the rest; only the last one switches anything. A chamber that drives real lines is judged
strictly, a simulated one is only warned.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from dryward.core.program import Program
from dryward.settings import Mistake, Settings, SettingsError, check_program_on_chamber

Verdict = Literal["pass", "warn", "fail"]
CAUTIONS = (
    "A heated chamber needs an independent thermal cut-out with manual reset, set 2-5 K above your hottest step, and a "
    "one-shot fuse in the heater's own circuit.",
    "It needs a residual-current device. Mains wiring is work for a licensed electrician under the code of your place.",
    "Without them never leave it unattended, not for a minute, whatever this page says.",
    "This software is at best class A in the words of IEC 60730: the safety of the equipment must not depend on it. It makes "
    "the cut-out act less often; it never replaces it.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing that was looked at. ``cure`` is empty when nothing has to be done."""

    name: str
    verdict: Verdict
    text: str
    cure: str = ""


def heats_for_real(settings: Settings) -> bool:
    """Say whether this chamber drives a real heater."""
    wired = any(o.name == "heater" and o.gpio is not None for o in settings.chamber.outputs)
    return wired and settings.service.pin_factory == "lgpio"


def configured(settings: Settings) -> Iterator[Finding]:
    """What the chamber file says, now that it could be read, and what in it forbids or weakens."""
    chamber = settings.chamber
    text = f"{settings.path}: {chamber.name}, {len(chamber.sensors)} sensors, {len(chamber.outputs)} outputs, {len(chamber.scales)} scales"
    yield Finding(name="config", verdict="pass", text=text)
    if settings.service.pin_factory == "mock" and any(o.gpio is not None for o in chamber.outputs):
        yield Finding(
            name="config",
            verdict="warn",
            text="pin_factory is mock: no line is really driven",
            cure='On a Raspberry Pi: [service] pin_factory = "lgpio".',
        )
    names = {o.name for o in chamber.outputs}
    roles = {s.role for s in chamber.sensors}
    if chamber.limits.commissioning:
        cure = "When everything else here passes: [limits] commissioning = false."
        yield Finding(
            name="config", verdict="warn", text="commissioning is on: checks run, heat is never given", cure=cure
        )
    if "heater" not in names:
        return
    if "limit-air" not in roles:
        cure = 'Add a sensor of another kind with role = "limit-air".'
        yield Finding(
            name="config", verdict="warn", text="one air sensor only: if it lies, nothing notices at once", cure=cure
        )
    if "fan" in names and "fan-feedback" not in roles:
        cure = 'Fit an airflow switch with role = "fan-feedback".'
        yield Finding(name="config", verdict="warn", text="nothing tells whether the fan really turns", cure=cure)
    if "contactor" not in names:
        cure = "Put a contactor in front of the heater, with a line of its own."
        yield Finding(
            name="config",
            verdict="warn",
            text="no contactor: a welded relay can only be ended by the cut-out or the plug",
            cure=cure,
        )


def programmed(settings: Settings, program: Program, where: Path) -> Iterator[Finding]:
    """For every step: can the chamber do it, are the sensors rated for it."""
    mistakes: tuple[Mistake, ...] = ()
    try:
        check_program_on_chamber(program, settings.chamber, where=where.name)
    except SettingsError as error:
        mistakes = error.mistakes
    for step in program.steps:
        if not any(m.key.startswith(f"steps.{step.name}.") for m in mistakes):
            what = "watched only" if step.air_c is None else f"{step.air_c:g} degC"
            yield Finding(
                name="program",
                verdict="pass",
                text=f"step {step.name}, {what}: the chamber can do it, its sensors are rated for it",
            )
    yield from mistaken("program", mistakes)


def mistaken(name: str, mistakes: Iterable[Mistake]) -> Iterator[Finding]:
    """Return the mistakes of a settings file as findings."""
    for m in mistakes:
        yield Finding(name=name, verdict="fail", text=f"{m.found}; limit: {m.limit}", cure=m.cure)


def needed_roles(program: Program) -> frozenset[str]:
    """Return the sensor roles that a program cannot do without."""
    needed: set[str] = set()
    for step in program.steps:
        if step.air_c is not None or step.safe_air_low_c is not None or step.safe_air_high_c is not None:
            needed.add("control-air")
        if any(v is not None for v in (step.rh_pct, step.safe_rh_low_pct, step.safe_rh_high_pct)):
            needed.add("humidity")
        if step.ends.core_c is not None:
            needed.add("core")
    return frozenset(needed)
