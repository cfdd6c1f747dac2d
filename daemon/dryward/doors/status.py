"""``dryward status``: what is going on, the pieces, what is wrong, what to do next."""

from __future__ import annotations

import textwrap
import time
from datetime import datetime
from pathlib import Path
from typing import Any

import click

from dryward.doors.common import config_option, fail, json_option, places, say_json
from dryward.doors.tables import grams, hours, per_cent, table
from dryward.doors.wire import Unreachable, ask

REFRESH_S = 2.0


@click.command()
@config_option
@json_option
@click.option("--watch", is_flag=True, help="Show it again every two seconds until Ctrl-C.")
@click.option(
    "--broker", metavar="URL", default=None, help="List every chamber at a message broker: mqtts://USER@HOST?ca=FILE."
)
@click.option("--chamber", metavar="NAME", default=None, help="With --broker: all about one of them.")
def status(config: Path | None, as_json: bool, watch: bool, broker: str | None, chamber: str | None) -> None:
    """Say what is going on and what to do next."""
    if broker is not None:
        from dryward.doors.fleet import show

        show(broker, chamber, as_json=as_json, watch=watch)
        return
    socket = places(config)[0]
    while True:
        try:
            snapshot = ask(socket, {"verb": "status"})["status"]
        except Unreachable as error:
            fail(str(error))
        if as_json:
            say_json(snapshot)
        else:
            if watch:
                click.clear()
            click.echo(text(snapshot))
        if not watch:
            return
        time.sleep(REFRESH_S)


def text(s: dict[str, Any]) -> str:
    """Return a snapshot as text that fits a phone's terminal."""
    parts = [headline(s), air(s)]
    if s["pieces"]:
        parts.append(pieces(s))
    if s["meat"]:
        parts.append("\n".join(textwrap.fill(line, 78, subsequent_indent="  ") for line in s["meat"]))
    trouble = [a for a in s["alarms"] if a["phase"] != "cleared"]
    parts += [alarm(a) for a in trouble]
    over = [named(a) for a in s["alarms"] if a["phase"] == "cleared"]
    if over:
        parts.append(f"Over, not acknowledged: {', '.join(over)}. 'dryward ack' says that you have seen it.")
    record = s["record"]
    if record and not record["ok"]:
        parts.append(f"RECORD: {record['why']} ({record['waiting']} readings wait, {record['lost']} lost).")
    parts += [textwrap.fill(f"Calibration: {line}", 78, subsequent_indent="  ") for line in s.get("calibrations", ())]
    parts += [f"Planned: {p['program']} at {clock(p['at_utc'])} (by {p['who']})." for p in s.get("planned", [])]
    parts.append(f"Next: {next_step(s)}")
    return "\n\n".join(parts)


def headline(s: dict[str, Any]) -> str:
    run = s["run"]
    line = f"{s['chamber']}: {run['phase'].upper()}"
    if run["run_id"]:
        line += f"  {run['run_id']}, {hours(run['elapsed_h'] * 3600.0)}"
    if run["keeping_warm"]:
        line += "\nkeeping warm"
    elif run["step"]:
        line += f"\nstep {run['step_number']} of {run['steps']}, {run['step']}: {hours(run['step_h'] * 3600.0)}"
        if run["dwell_wanted_h"]:
            line += f", in band {hours(run['dwell_h'] * 3600.0)} of {hours(run['dwell_wanted_h'] * 3600.0)}"
    if run["why"]:
        line += f"\n{run['why']}"
    return line


def air(s: dict[str, Any]) -> str:
    a = s["air"]
    shown = "air unknown" if a["air_c"] is None else f"air {a['air_c']:.1f} degC"
    if a["air_c"] is not None and a["quality"] != "fresh":
        shown += f" ({a['quality']})"
    if a["setpoint_c"] is not None:
        shown += f", setpoint {a['setpoint_c']:.1f}"
    if a["rh_pct"] is not None:
        shown += f", {a['rh_pct']:.0f} %RH"
    on = ", ".join(name for name, is_on in s["outputs"].items() if is_on) or "nothing"
    line = f"{shown}\non: {on}; heat {100 * s['duty']:.0f} %; {s['energy_kwh']:z.2f} kWh so far"
    if s.get("moisture"):
        w = s["moisture"]
        line += f"\ndew point {w['dew_point_c']:.1f} degC, wet bulb {w['wet_bulb_c']:.1f}; dries {w['evaporation_g_per_m2_h']:.0f} g/m2/h where wet"
    line += upkeep(s)
    if s["no_heat"]:
        line += f"\nno heat: {s['no_heat']}"
    return line


def upkeep(s: dict[str, Any]) -> str:
    """Return what the water has cost so far, and the relay that is over first."""
    said = ""
    spent = s.get("energy") or {}
    if spent.get("kwh_per_kg_water") is not None and spent.get("least_kwh_per_kg_water") is not None:
        said += f"\n{spent['kwh_per_kg_water']:.1f} kWh per kg of water; evaporation alone takes {spent['least_kwh_per_kg_water']:.2f}"
    lasting = {name: r for name, r in (s.get("relays") or {}).items() if r["years_left"] is not None}
    if lasting:
        name = min(lasting, key=lambda n: float(lasting[n]["years_left"]))
        said += f"\nrelay of the {name}: {lasting[name]['used_pct']:.0f} % used, {lasting[name]['years_left']:.1f} years left at this pace"
    return said


def pieces(s: dict[str, Any]) -> str:
    rows = [
        [
            p["name"],
            grams(p["green_g"]),
            grams(p["weight_g"]),
            per_cent(p["loss_pct"]),
            grams(p["target_g"]),
            p["status"],
        ]
        for p in s["pieces"]
    ]
    shown = table(["piece", "green", "now", "lost", "target", ""], rows)
    known = [p for p in s["pieces"] if p.get("finish_utc") or p.get("finish_never")]
    if not known:
        return "\n\n".join(
            [shown, *[f"No forecast yet: {p['forecast_why']}." for p in s["pieces"] if p.get("forecast_why")][:1]]
        )
    return "\n".join(
        [
            shown,
            "",
            "Ready, with the span that holds it nine times out of ten:",
            *(f"{p['name']}: {finish(p)}" for p in s["pieces"] if finish(p)),
        ]
    )


def finish(p: dict[str, Any]) -> str:
    """Say when a piece will be ready, by the local clock; empty where nothing is known or asked."""
    if p["status"] != "drying":
        return ""
    if p.get("finish_never"):
        earliest = "" if p["finish_lo_utc"] is None else f"; if at all, not before {clock(p['finish_lo_utc'])}"
        return f"not with this program{earliest}"
    if p.get("finish_utc") is None:
        return f"no forecast yet: {p['forecast_why']}" if p.get("forecast_why") else ""
    latest = "perhaps never" if p["finish_hi_utc"] is None else clock(p["finish_hi_utc"])
    return f"{clock(p['finish_utc'])} ({clock(p['finish_lo_utc'])} to {latest})"


def clock(utc: str) -> str:
    """A moment by the local clock: '18:40' today, else with its day, or with its date when that is a week off."""
    at = datetime.fromisoformat(utc).astimezone()
    days = (at.date() - datetime.now().date()).days
    return f"{at:%H:%M}" if days == 0 else f"{at:%a %H:%M}" if 0 < days < 7 else f"{at:%d %b %H:%M}"


def next_step(s: dict[str, Any]) -> str:
    """Return what to do next; a loaded batch whose start is planned waits for it."""
    if s.get("planned") and s["pieces"] and s["run"]["phase"] == "idle" and not s["alarms"]:
        return f"Nothing until {clock(s['planned'][0]['at_utc'])}: then {s['planned'][0]['program']} begins by itself. Keep the meat cold until then."
    return str(s["next"])


def named(a: dict[str, Any]) -> str:
    """Return an alarm's key, with what it is about where it is about one thing."""
    return f"{a['key']} ({a['subject']})" if a.get("subject") else str(a["key"])


def alarm(a: dict[str, Any]) -> str:
    word = "TRIP" if a["trip"] else "ALARM"
    seen = f", seen by {a['acked_by']}" if a["acked_by"] else ""
    return f"{word} {a['key']} ({a['phase']}, {a['minutes']:.0f} min{seen})\n  {a['happened']}\n  {a['meaning']}\n  {a['advice']}"
