"""The state as others read it: one plain dict, made on request from the frozen state, in the asker's thread."""

from __future__ import annotations

from typing import Any

from dryward.core.alarms import Alarm, tripped
from dryward.core.asks import COMMISSIONING
from dryward.core.food import heat_facts
from dryward.core.guard import COMMISSIONED
from dryward.core.layout import Layout
from dryward.core.phases import ACTIVE, ENDED
from dryward.core.progress import HOUR_S, current_step, target_air_c
from dryward.core.state import State, energy_j, operations
from dryward.core.weighing import PieceState
from dryward.record.moments import utc_text
from dryward.record.writer import Health
from dryward.science.heat_statement import heat_statements, wet_bulb_warning
from dryward.service.loop import View
from dryward.service.outlook import Prospect, forecast_of
from dryward.service.upkeep import air_moisture, energy, relays
from dryward.service.visits import Due

JOULES_PER_KWH = 3.6e6


def glance(layout: Layout, view: View) -> dict[str, Any]:
    """Return what changes from one second to the next, for those who look each tick: run, air, outputs."""
    return {
        "run": _run(view.state),
        "air": _air(layout, view.state),
        "outputs": {o.name: o.name in view.on for o in layout.chamber.outputs},
    }


def snapshot(
    layout: Layout, view: View, health: Health | None = None, prospect: Prospect | None = None
) -> dict[str, Any]:
    """Return everything ``dryward status`` shows. Times in s on the chamber clock and in UTC."""
    state = view.state
    now = state.now
    ahead = prospect or Prospect()
    due = ahead.due(state, view.stamp.utc_s)
    return glance(layout, view) | {
        "chamber": layout.chamber.name,
        "utc": utc_text(view.stamp.utc_s),
        "chamber_s": now,
        "sensors": [
            {
                "name": sensor.name,
                "role": sensor.role,
                "value": known.value,
                "quality": known.quality,
                "age_s": None if known.value is None else round(now - known.sampled_s, 1),
                "why": known.why,
            }
            for sensor, known in zip(layout.chamber.sensors, state.sensors, strict=True)
        ],
        "duty": round(state.control.duty, 3),
        "no_heat": state.no_heat,
        "energy_kwh": round(energy_j(layout, state) / JOULES_PER_KWH, 3),
        "operations": operations(state),
        "energy": energy(layout, state),
        "relays": relays(layout, state),
        "moisture": air_moisture(layout, state),
        "tuning": _tuning(state),
        "pieces": [_piece(p, ahead, now, view.stamp.utc_s) for p in state.pieces],
        "meat": _meat(layout, state),
        "alarms": [_alarm(a, now) for a in state.alarms if a.phase != "pending"],
        "record": None
        if health is None
        else {"ok": health.ok, "why": health.why, "waiting": health.buffered, "lost": health.dropped},
        "next": next_action(state, due),
        "come_back": [] if due is None else [_come_back(due, now, view.stamp.utc_s)],
    }


def _run(state: State) -> dict[str, Any]:
    run = state.run
    step = current_step(run)
    steps = 0 if run.program is None else len(run.program.steps)
    return {
        "phase": run.phase,
        "run_id": run.run_id,
        "program": "" if run.program is None else run.program.name,
        "why": run.why,
        "step": "" if step is None else step.name,
        "step_number": min(run.step_index + 1, steps),
        "steps": steps,
        "keeping_warm": run.program is not None and run.step_index >= steps,
        "step_h": round(run.step_s / HOUR_S, 3),
        "dwell_h": round(run.dwell_s / HOUR_S, 3),
        "dwell_wanted_h": None if step is None else step.ends.dwell_h,
        "in_band": run.in_band,
        "elapsed_h": round(((run.ended_s or state.now) - run.started_s) / HOUR_S, 3) if run.run_id else 0.0,
    }


def _air(layout: Layout, state: State) -> dict[str, Any]:
    air = state.sensors[layout.air] if layout.air is not None else None
    humidity = state.sensors[layout.humidity] if layout.humidity is not None else None
    return {
        "air_c": None if air is None else air.value,
        "quality": "failed" if air is None else air.quality,
        "target_c": target_air_c(state.run),
        "setpoint_c": state.control.setpoint_c,
        "rh_pct": None if humidity is None else humidity.good,
    }


def _meat(layout: Layout, state: State) -> list[str]:
    """What is known of the meat now, each sentence with what it stands on."""
    if not state.run.run_id or not state.pieces:
        return []
    facts = heat_facts(layout, state.food, state.run)
    said = [str(s) for s in heat_statements(facts)]
    air_c = state.sensors[layout.air].good if layout.air is not None else None
    if state.run.phase in ACTIVE and air_c is not None:
        rh_pct = state.sensors[layout.humidity].good if layout.humidity is not None else None
        warning = wet_bulb_warning(air_c=air_c, rh_pct=rh_pct, pressure_pa=layout.chamber.pressure_pa)
        said = [warning, *said] if warning else said
    return said


def _come_back(due: Due, now: float, utc_s: float) -> dict[str, Any]:
    return {
        "at_s": round(due.at_s, 1),
        "at_utc": utc_text(utc_s + due.at_s - now),
        "weigh": list(due.weigh),
        "ready": list(due.ready),
        "text": due.text,
    }


def _piece(piece: PieceState, prospect: Prospect, now: float, utc_s: float) -> dict[str, Any]:
    done_s = piece.crossed_s if piece.crossed_s is not None else piece.done_s
    return {
        "name": piece.piece.name,
        "status": piece.status,
        "green_g": piece.piece.green_g,
        "target_g": round(piece.piece.target_g, 2),
        "target_loss_pct": piece.piece.target_loss_pct,
        "weight_g": None if piece.weight_g is None else round(piece.weight_g, 2),
        "loss_pct": None if piece.loss_pct is None else round(piece.loss_pct, 2),
        "weighed_s": None if piece.weight_g is None else piece.weighed_s,
        "final_g": None if piece.final_g is None else round(piece.final_g, 2),
        "done_s": done_s,
        "done_utc": None if done_s is None else utc_text(utc_s - (now - done_s)),
    } | _forecast(piece, prospect, now, utc_s)


def _forecast(piece: PieceState, prospect: Prospect, now: float, utc_s: float) -> dict[str, Any]:
    """When the piece will be done, with the span that holds it nine times out of ten; on both clocks."""
    found = forecast_of(prospect if piece.status == "drying" else Prospect(), piece.piece.name)
    times = {name: found[f"{name}_s"] for name in ("finish", "finish_lo", "finish_hi")}
    return found | {f"{name}_utc": None if t is None else utc_text(utc_s + t - now) for name, t in times.items()}


def _alarm(alarm: Alarm, now: float) -> dict[str, Any]:
    happened, meaning, advice = alarm.say()
    return {
        "key": alarm.key,
        "subject": alarm.subject,
        "phase": alarm.phase,
        "trip": alarm.fault.effect != "tell",
        "since_s": alarm.since_s,
        "minutes": round((now - alarm.since_s) / 60.0, 1),
        "happened": happened,
        "meaning": meaning,
        "advice": advice,
        "acked_by": alarm.acked_by,
    }


def _tuning(state: State) -> dict[str, Any]:
    """A relay test in hand, and the figures that were accepted."""
    test, tuned = state.test, state.tuned
    return {
        "test": None
        if test is None
        else {"setpoint_c": test.setpoint_c, "swings": max(0, (len(test.turns_s) - 1) // 2), "outcome": test.outcome},
        "accepted": None
        if tuned is None
        else {"on": tuned.plant.tuned_on, "pace": tuned.pace, "cycle_s": tuned.cycle_s},
    }


def next_action(state: State, due: Due | None = None) -> str:
    """Say what the owner has to do next, in one sentence. ``due``: the next opening, where one is planned."""
    trips = tripped(state.alarms)
    if trips:  # a welded relay mostly shows as too hot first; then only the plug helps
        return next((t for t in trips if t.key == "heat-while-off"), trips[0]).say()[2]
    if state.test is not None:
        return (
            f"Leave the door shut: the air swings around {state.test.setpoint_c:g} degC until the relay test is over."
        )
    match state.run.phase:
        case "idle":
            return "Start a program with 'dryward start'." if state.pieces else "Load pieces with 'dryward load'."
        case "held" | "holding":
            return f"The run is held ({state.run.why}): 'dryward resume' or 'dryward stop'."
        case phase if phase in ENDED:
            return "Take the pieces out, cool them, keep them cold. 'dryward load' begins the next batch."
        case _:
            pass
    if state.no_heat == COMMISSIONED and target_air_c(state.run) is not None:
        return COMMISSIONING
    unheard = [a for a in state.alarms if a.phase == "active"]  # what is over asks for nothing but to be acknowledged
    if unheard:
        return unheard[0].say()[2]
    ready = [p.piece.name for p in state.pieces if p.status == "done"]
    if ready:
        return (
            f"Take out {', '.join(ready)}: done. Then 'dryward pull PIECE'. {'' if due is None else due.text}".strip()
        )
    if due is not None:
        return due.text
    by_hand = [p.piece.name for p in state.pieces if p.status == "drying" and p.piece.scale is None]
    if by_hand:
        return f"Weigh {', '.join(by_hand)} from time to time with 'dryward weigh'."
    return "Nothing: the pieces are drying."
