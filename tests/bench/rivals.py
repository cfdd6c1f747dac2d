"""Controllers to compare: bang-bang, a general PID library through the same time-proportioner, and dryward's own loop."""

from __future__ import annotations

from dataclasses import replace
from typing import Protocol

from simple_pid import PID

from dryward.core.chamber import Chamber, Control, Output, Plant
from dryward.core.control import Air, ControlState, Demand, decide
from dryward.core.heat import portion

HAS = frozenset({"heater", "fan", "vent"})


class Rival(Protocol):
    """Decides once a tick whether to heat."""

    def heats(self, target_c: float, air_c: float, room_c: float, now: float) -> bool: ...


def box(control: Control, *, period_s: float = 1.0, cabinet: bool = False) -> Chamber:
    """Return a chamber with a mechanical heater relay and no sensors of its own; a cabinet has a cooler as well."""
    outputs: tuple[Output, ...] = (
        Output(name="heater", min_on_s=5.0, min_off_s=5.0),
        Output(name="fan"),
        Output(name="vent"),
    )
    if cabinet:
        outputs = (*outputs, Output(name="cooler", min_on_s=180.0, min_off_s=300.0))
    return Chamber(name="bench", sensors=(), outputs=outputs, control=control, period_s=period_s)


class BangBang:
    """On half a kelvin below, off half a kelvin above."""

    def __init__(self) -> None:
        self._on = False

    def heats(self, target_c: float, air_c: float, room_c: float, now: float) -> bool:
        if air_c > target_c + 0.5:
            self._on = False
        elif air_c < target_c - 0.5:
            self._on = True
        return self._on


class Library:
    """simple-pid, its output limited to 0..1 and worked off in cycles by dryward's own time-proportioner."""

    def __init__(self, chamber: Chamber, kp: float, ki: float, kd: float) -> None:
        self._chamber = chamber
        self._now = 0.0
        self._pid = PID(kp, ki, kd, output_limits=(0.0, 1.0), time_fn=lambda: self._now)
        self._begun, self._length, self._give, self._owed = 0.0, 0.0, 0.0, 0.0

    def heats(self, target_c: float, air_c: float, room_c: float, now: float) -> bool:
        self._now, self._pid.setpoint = now, target_c
        duty = self._pid(air_c)
        if now - self._begun >= self._length:
            self._begun = now
            self._length, self._give, self._owed = portion(self._chamber, float(duty or 0.0), self._owed)
        return now - self._begun < self._give


class Own:
    """dryward's heat loop, through ``decide``."""

    def __init__(self, chamber: Chamber) -> None:
        self._chamber, self._state = chamber, ControlState()
        self._has = frozenset(output.name for output in chamber.outputs)
        # In a cabinet heat holds the lower edge of the dead zone; here that edge is the target.
        self._above_k = chamber.control.heat_cool_gap_k if "cooler" in self._has else 0.0

    def heats(self, target_c: float, air_c: float, room_c: float, now: float) -> bool:
        on, self._state = decide(
            self._chamber,
            self._state,
            Demand(air_c=target_c + self._above_k),
            Air(air_c=air_c, ambient_c=room_c),
            self._has,
            now,
        )
        return "heater" in on


def rivals(control: Control, plant: Plant, *, cabinet: bool = False) -> dict[str, Rival]:
    """Return fresh controllers by the name they have in the table."""
    chamber = box(control)
    return {
        "bang-bang +-0.5 K": BangBang(),
        "simple-pid as constructed": Library(chamber, 1.0, 0.0, 0.0),
        "simple-pid as in its example": Library(chamber, 1.0, 0.1, 0.05),
        "dryward before tuning": Own(box(replace(control, plant=None), cabinet=cabinet)),
        "dryward tuned": Own(box(replace(control, plant=plant), cabinet=cabinet)),
    }
