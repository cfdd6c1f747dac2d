"""What people ask for: each request is accepted, or refused with the thing, the value, the limit and the cure."""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

from dryward.core.alarms import acknowledge, reset, shelve, tripped
from dryward.core.commands import Event, Reply
from dryward.core.food import Food
from dryward.core.guard import GuardState
from dryward.core.heat_state import NO_HEAT
from dryward.core.inputs import Ack, Adopt, Hold, Load, Pull, Request, Reset, Resume, Shelve, Start, Stop, Tune, Weigh
from dryward.core.layout import Layout
from dryward.core.phases import ACTIVE, ENDED, Trigger, follow
from dryward.core.progress import Run, highest_c, top_air_c
from dryward.core.state import State
from dryward.core.tune_run import Tuned, outlives, started
from dryward.core.weighing import (
    STRANGE,
    PieceState,
    doubt_weight,
    has_lost,
    refuse_weight,
    was_done_too_early,
    weigh_in,
)

REMEMBERED = 64
COMMISSIONING = (
    "NO HEAT COMES: the chamber file says commissioning = true in [limits], so that this program cannot be held. "
    "'dryward stop', keep the meat cold, write false, start dryward again."
)


class Answer(NamedTuple):
    state: State
    reply: Reply
    events: tuple[Event, ...] = ()


def answer(layout: Layout, state: State, request: Request, now: float) -> Answer:
    """Carry out ``request`` or refuse it. A request id that was answered before is refused."""
    if request.request_id in state.answered:
        return Answer(
            state, Reply(request_id=request.request_id, accepted=False, text="This request was carried out before.")
        )
    state = replace(state, answered=(*state.answered[1 - REMEMBERED :], request.request_id))
    outcome = _carry_out(layout, state, request, now)
    if isinstance(outcome, str):
        refused = Event(
            kind="refused",
            subject=request.ask.verb,
            text=f"{request.who} asked to {request.ask.verb}; refused: {outcome}",
        )
        return Answer(state, Reply(request_id=request.request_id, accepted=False, text=outcome), (refused,))
    after, text = outcome
    done = Event(
        kind=f"asked-{request.ask.verb}", subject=request.who, text=f"{request.who} ({request.origin}): {text}"
    )
    return Answer(after, Reply(request_id=request.request_id, accepted=True, text=text), (done,))


def _carry_out(layout: Layout, state: State, request: Request, now: float) -> tuple[State, str] | str:
    match request.ask:
        case Load() as ask:
            return _load(layout, state, ask)
        case Start() as ask:
            return _start(layout, state, ask, now)
        case Hold() as ask:
            return _trigger(state, "hold", f"{request.who} holds it{': ' + ask.reason if ask.reason else ''}")
        case Resume():
            return _resume(state, request.who)
        case Stop() as ask:
            return _stop(state, ask, request.who, now)
        case Weigh() as ask:
            return _weigh(state, ask, now)
        case Pull() as ask:
            return _pull(state, ask, now)
        case Ack() as ask:
            return _ack(state, ask, request.who)
        case Shelve() as ask:
            alarms, why = shelve(state.alarms, ask.alarm, ask.hours, now)
            return why or (replace(state, alarms=alarms), f"{ask.alarm} is silent for {ask.hours:g} h.")
        case Reset():
            return _reset(state, request.who)
        case Tune() as ask:
            return _tune(layout, state, ask, now)
        case Adopt() as ask:
            return _adopt(layout, state, ask)


def _load(layout: Layout, state: State, ask: Load) -> tuple[State, str] | str:
    if state.run.phase in ACTIVE:
        return f"Run {state.run.run_id} is {state.run.phase}: pieces are loaded before a run. Stop it first, or wait for its end."
    if tripped(state.alarms):
        return f"{tripped(state.alarms)[0].key} has tripped: acknowledge and reset it before a new batch."
    if not ask.pieces:
        return "No pieces: name at least one with its green weight."
    names = [p.name for p in ask.pieces]
    twice = sorted({n for n in names if names.count(n) > 1})
    if twice:
        return f"Two pieces are called {', '.join(twice)}: give each its own name."
    unknown = [f"{p.name} ({p.scale})" for p in ask.pieces if p.scale is not None and p.scale not in layout.scales]
    if unknown:
        have = ", ".join(layout.scales) or "none"
        return f"Unknown scale for {', '.join(unknown)}. The chamber has: {have}."
    pieces = tuple(PieceState(p) for p in ask.pieces)
    green_g = sum(p.green_g for p in ask.pieces)
    text = f"{len(pieces)} pieces loaded, {green_g:.0f} g green, {sum(p.target_g for p in ask.pieces):.0f} g when all are done."
    return replace(state, pieces=pieces, run=Run()), text


def _start(layout: Layout, state: State, ask: Start, now: float) -> tuple[State, str] | str:
    if state.run.phase in ACTIVE:
        return f"Run {state.run.run_id} is {state.run.phase}: one run at a time. 'dryward stop' ends it."
    if state.run.phase in ENDED:
        return f"Run {state.run.run_id} has ended ({state.run.phase}): load the next batch first."
    trips = tripped(state.alarms)
    if trips:
        return f"{trips[0].key} has tripped: acknowledge and reset it first. {trips[0].say()[0]}"
    if not state.pieces:
        return "No pieces are loaded: 'dryward load' them with their green weights first."
    if (
        any(s.air_c is not None for s in ask.program.steps)
        and "heater" not in layout.has
        and "cooler" not in layout.has
    ):
        return f"Program {ask.program.name} wants a temperature and the chamber has neither heater nor cooler."
    top_c, limits = top_air_c(ask.program), layout.chamber.limits
    air_c = None if layout.air is None else state.sensors[layout.air].good
    if top_c is not None and air_c is not None and air_c > (limit_c := highest_c(limits, top_c)):
        return (
            f"The air is at {air_c:.1f} degC, above the {limit_c:g} degC that program {ask.program.name} may not pass: "
            "it would trip at once. Let the chamber cool with its door open, keep the meat cold, start again."
        )
    run = Run(phase="running", run_id=ask.run_id, program=ask.program, started_s=now)
    guard = GuardState(told=state.guard.told)
    before = tuple(replace(t, on_s=t.on_time_s(now)) for t in state.tallies)
    said = f"Run {ask.run_id} has begun: program {ask.program.name}, {len(state.pieces)} pieces."
    if limits.commissioning and top_c is not None:
        said += f" {COMMISSIONING}"
    return replace(state, run=run, guard=guard, food=Food(), before=before), said


def _tune(layout: Layout, state: State, ask: Tune, now: float) -> tuple[State, str] | str:
    if state.run.phase != "idle":
        cure = "'dryward stop' ends it" if state.run.phase in ACTIVE else "'dryward reset' makes ready"
        return f"Run {state.run.run_id} is {state.run.phase}: a relay test needs the chamber for itself. {cure}."
    if trips := tripped(state.alarms):
        return f"{trips[0].key} has tripped: acknowledge and reset it first. {trips[0].say()[0]}"
    if layout.chamber.limits.commissioning:
        return "The chamber is being commissioned (limits.commissioning): heat is never given, so nothing can swing."
    loaded = any(p.status != "pulled" for p in state.pieces)
    test, run = started(layout, ask, state.sensors, loaded=loaded, now=now)
    if test.outcome == "refused":
        return f"No relay test: {test.reason}."
    before = tuple(replace(t, on_s=t.on_time_s(now)) for t in state.tallies)
    state = replace(
        state, run=run, test=test, guard=GuardState(told=state.guard.told), food=Food(), before=before,
        pieces=state.pieces if loaded else (),  # a batch that was all taken out would end the test as it ends a run
        control=replace(state.control, heat=NO_HEAT, setpoint_c=None),
    )  # fmt: skip
    return (
        state,
        f"A relay test around {ask.setpoint_c:g} degC has begun ({ask.run_id}). It takes half an hour or some hours; hold, stop or the door break it off.",
    )


def _adopt(layout: Layout, state: State, ask: Adopt) -> tuple[State, str] | str:
    if state.run.phase in ACTIVE:
        return f"Run {state.run.run_id} is {state.run.phase}: other figures are taken up between two runs."
    if "heater" not in layout.has:
        return "There is no heater output: nothing to tune."
    forgotten = replace(state, tuned=None, control=replace(state.control, heat=NO_HEAT))
    if ask.plant is None:
        return forgotten, "The figures of the chamber file are used again."
    tuned = Tuned(ask.plant, ask.cycle_s, ask.pace)
    p = ask.plant
    written = layout.chamber.control.plant
    short = (
        f" But the chamber file has figures tuned on {written.tuned_on}, and from the next start on those are used: put these in their place."
        if written is not None and outlives(layout, tuned) is None
        else ""
    )
    return replace(forgotten, tuned=tuned), (
        f"Used from now on, {ask.pace}, tuned on {p.tuned_on or 'an unknown day'}: gain {p.gain_k:.1f} K, time constant "
        f"{p.time_constant_s:.0f} s, dead time {p.dead_time_s:.1f} s, lag {p.lag_s:.1f} s, cycle {ask.cycle_s:g} s.{short}"
    )


def _trigger(state: State, trigger: Trigger, why: str) -> tuple[State, str] | str:
    phase = follow(state.run.phase, trigger)
    if phase is None:
        return f"The run is {state.run.phase}: it cannot {trigger} now."
    return replace(state, run=replace(state.run, phase=phase, why=why)), f"The run is {phase}: {why}."


def _resume(state: State, who: str) -> tuple[State, str] | str:
    trips = tripped(state.alarms)
    if trips:
        return f"{trips[0].key} has tripped: acknowledge and reset it before you resume. {trips[0].say()[0]}"
    return _trigger(state, "resume", f"{who} resumes it")


def _stop(state: State, ask: Stop, who: str, now: float) -> tuple[State, str] | str:
    why = f"stopped by {who}{': ' + ask.reason if ask.reason else ''}"
    outcome = _trigger(state, "stop", why)
    if isinstance(outcome, str):
        return outcome
    return replace(outcome[0], run=replace(outcome[0].run, ended_s=now)), outcome[1]


def _find(state: State, name: str) -> int | str:
    for i, piece in enumerate(state.pieces):
        if piece.piece.name == name:
            return i
    have = ", ".join(p.piece.name for p in state.pieces) or "none"
    return f"There is no piece called {name}. Loaded: {have}."


def _weigh(state: State, ask: Weigh, now: float) -> tuple[State, str] | str:
    found = _find(state, ask.piece)
    if isinstance(found, str):
        return found
    piece = state.pieces[found]
    if piece.status == "pulled":
        return f"{ask.piece} was taken out at {piece.final_g:.0f} g: it is no longer weighed."
    why = refuse_weight(piece, ask.weight_g)
    if why is not None:
        return why
    ended = state.run.phase in ENDED
    after = weigh_in(piece, ask.weight_g, now, ended=ended)
    text = (
        f"{ask.piece} weighs {ask.weight_g:g} g: {after.loss_pct:.1f} % of {piece.piece.green_g:g} g lost, "
        f"target {piece.piece.target_g:.1f} g ({piece.piece.target_loss_pct:g} %)."
    )
    if not ended and was_done_too_early(piece, ask.weight_g):
        text = f"{text} It was called done too early and counts as drying again."
    strange = None if STRANGE in piece.told else doubt_weight(piece, ask.weight_g, now)
    if strange is not None:
        text = f"{text} {strange}"
        if piece.status == "drying" and not ended and has_lost(after, piece.piece.target_loss_pct):
            after = replace(after, told=(*after.told, STRANGE))
            text = f"{text} It is not called done before a second weighing says so."
    return _put(state, found, after), text


def _pull(state: State, ask: Pull, now: float) -> tuple[State, str] | str:
    found = _find(state, ask.piece)
    if isinstance(found, str):
        return found
    piece = state.pieces[found]
    if piece.status == "pulled":
        return f"{ask.piece} has been taken out already."
    if ask.weight_g is not None:
        why = refuse_weight(piece, ask.weight_g)
        if why is not None:
            return why
        piece = weigh_in(piece, ask.weight_g, now, ended=state.run.phase in ENDED)
    if piece.weight_g is None:
        return f"{ask.piece} has never been weighed: give its weight with 'dryward pull {ask.piece} GRAMS'."
    piece = replace(
        piece, status="pulled", final_g=piece.weight_g, done_s=now if piece.done_s is None else piece.done_s
    )
    return _put(state, found, piece), f"{ask.piece} is out: {piece.weight_g:.1f} g, {piece.loss_pct:.1f} % lost."


def _put(state: State, index: int, piece: PieceState) -> State:
    return replace(state, pieces=(*state.pieces[:index], piece, *state.pieces[index + 1 :]))


def _ack(state: State, ask: Ack, who: str) -> tuple[State, str] | str:
    if not who.strip():
        return "An acknowledgement needs a name: who are you?"
    alarms, changed = acknowledge(state.alarms, ask.alarm, who)
    if not changed:
        have = ", ".join(a.key for a in state.alarms if a.phase != "pending") or "none"
        return f"There is nothing to acknowledge under '{ask.alarm}'. Alarms now: {have}."
    return replace(state, alarms=alarms), f"Acknowledged by {who}: {', '.join(a.key for a in changed)}."


def _reset(state: State, who: str) -> tuple[State, str] | str:
    if not who.strip():
        return "A reset needs a name: who are you?"
    if tripped(state.alarms):
        alarms, why = reset(state.alarms)
        if why is not None:
            return why
        return replace(
            state, alarms=alarms, guard=replace(state.guard, watch=GuardState().watch)
        ), "The trips are reset. 'dryward resume' goes on."
    phase = follow(state.run.phase, "clear")
    if phase is None:
        return f"Nothing to reset: no trip is latched and the run is {state.run.phase}."
    return replace(state, run=Run(), pieces=()), "Ready for the next batch."
