"""One switched output and its shortest times, and times that come round by the chamber clock."""

from __future__ import annotations

from dryward.core.chamber import Chamber
from dryward.core.frozen import frozen


@frozen
class Switch:
    """One output: wanted on or not, since when on the chamber clock, whether it was on before.

    ``since_s`` None: nobody knows when it last ran (new state, power cut); its rest begins with the first tick.
    """

    on: bool = False
    since_s: float | None = None
    ran: bool = False


OFF = Switch()


def allowed(chamber: Chamber, name: str, on: bool, since_s: float) -> bool:
    """Return whether an output that has been in its state for ``since_s`` may change it by its own shortest times."""
    for output in chamber.outputs:
        if output.name == name:
            return since_s >= (output.min_on_s if on else output.min_off_s)
    return True


def turn(chamber: Chamber, name: str, switch: Switch, *, want: bool, now: float) -> Switch:
    """Return the switch turned as wanted, or as it was while its shortest time has not passed."""
    if switch.since_s is None:
        return Switch(False, now)
    if want is switch.on or not allowed(chamber, name, switch.on, now - switch.since_s):
        return switch
    return Switch(want, now, switch.on)


def cut(switch: Switch, now: float) -> Switch:
    """Return the switch after it was taken away from outside: off since now, if it was on."""
    return Switch(False, now, True) if switch.on else switch


def lately(switch: Switch, for_s: float, now: float) -> bool:
    """Return whether a switch is on or went off less than ``for_s`` ago."""
    return switch.on or (switch.ran and switch.since_s is not None and now - switch.since_s < for_s)


def due(every_s: float, for_s: float, now: float) -> bool:
    """Return whether a scheduled time is on: at the end of every period, so that none begins with a start.

    By the chamber clock alone, so that schedules need no memory and survive a restart.
    """
    return every_s > 0.0 and now % every_s >= every_s - for_s
