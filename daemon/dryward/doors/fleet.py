"""``status --broker``: every chamber at a message broker, one line each, or one of them in full."""

from __future__ import annotations

import time
from typing import Any

import click

from dryward.doors.common import fail, say_json
from dryward.doors.tables import table

REFRESH_S = 2.0
Chambers = list[tuple[str, str, dict[str, Any]]]


def show(url: str, chamber: str | None, *, as_json: bool, watch: bool) -> None:
    """Print what is known of the chambers at the broker ``url``; ends with 1 when it cannot be asked."""
    from dryward.doors.mqtt.fleet import NoBroker, listening, place

    try:
        with listening(place(url)) as fleet:
            while True:
                found = fleet.chambers()
                if chamber is not None:
                    found = [c for c in found if c[0] == chamber] or _no_such(chamber, found)
                if as_json:
                    say_json({name: {"there": there, **snapshot} for name, there, snapshot in found})
                else:
                    if watch:
                        click.clear()
                    click.echo(plain(full(found[0]) if chamber is not None else listed(found)))
                    if fleet.why:
                        click.echo(plain(f"\nTHIS IS OLD. {fleet.why}"))
                if not watch:
                    return
                time.sleep(REFRESH_S)
    except NoBroker as error:
        fail(str(error))


def listed(chambers: Chambers) -> str:
    """Return the chambers as a table, and below it what each needs."""
    if not chambers:
        return "No chamber has shown itself at this broker."
    rows = [_row(name, there, s) for name, there, s in chambers]
    lines = [table(["chamber", "there", "run", "step", "air", "set", "done", "alarms"], rows, left=4)]
    wants = [f"{name}: {s['next']}" for name, there, s in chambers if there == "ready" and s["next"]]
    wants += [
        f"{name} is lost: nobody knows what it does. Look at its power and network."
        for name, there, _ in chambers
        if there == "lost"
    ]
    wants += [
        f"{name}: ITS LOOP HANGS."
        for name, there, s in chambers
        if there == "ready" and s["messages"]["ticking"] is False
    ]
    return "\n\n".join([*lines, "\n".join(wants)] if wants else lines)


def plain(text: str) -> str:
    """Return text from a broker without control characters: anybody may have written it."""
    return "".join(c if c.isprintable() or c == "\n" else "?" for c in text)


def _row(name: str, there: str, s: dict[str, Any]) -> list[str]:
    run, air = s["run"], s["air"]
    step = f"{run['step']} {run['step_number']}/{run['steps']}" if run["step"] else "-"
    done = sum(p["status"] in ("done", "pulled") for p in s["pieces"])
    trips = sum(bool(a["trip"]) for a in s["alarms"])
    alarms = f"{len(s['alarms'])}{f', {trips} TRIP' if trips else ''}" if s["alarms"] else "-"
    return [
        name,
        there,
        run["phase"] or "-",
        step,
        _degrees(air["air_c"]),
        _degrees(air["setpoint_c"]),
        f"{done} of {len(s['pieces'])}" if s["pieces"] else "-",
        alarms,
    ]


def _degrees(value: float | None) -> str:
    return "-" if value is None else f"{value:.1f}"


def full(one: tuple[str, str, dict[str, Any]]) -> str:
    """Return all that one chamber shows, as ``dryward status`` would beside it."""
    from dryward.doors.status import text

    name, there, snapshot = one
    known = (
        snapshot["run"]["phase"],
        snapshot["run"]["elapsed_h"],
        snapshot["duty"],
        snapshot["energy_kwh"],
        snapshot["next"],
    )
    if None in known:
        return f"{name} ({there}) has not shown everything yet."
    try:
        shown = text(snapshot)
    except (ValueError, TypeError, LookupError, AttributeError, ArithmeticError):  # anybody may have written it
        return f"{name} ({there}) shows what no dryward writes. Look who else can write to its topics."
    return (
        shown if there == "ready" else f"{name} is {there.upper()}: this is the last that was heard of it.\n\n{shown}"
    )


def _no_such(chamber: str, found: Chambers) -> Chambers:
    fail(f"No chamber called {chamber} at this broker. There: {', '.join(name for name, _, _ in found) or 'none'}.")
