"""Whole runs in simulated time: the same loop, engine and record as the daemon's, with ticks that do not wait."""

from __future__ import annotations

import time
import uuid
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from dryward import __version__
from dryward.core.chamber import Chamber
from dryward.core.commands import Commands
from dryward.core.curves import told
from dryward.core.inputs import Ask, Inputs, Load, Pull, Request, Start
from dryward.core.layout import Layout, lay_out
from dryward.core.phases import ENDED
from dryward.core.program import Piece, Program
from dryward.core.progress import HOUR_S
from dryward.core.state import State, first_state
from dryward.record.moments import Session
from dryward.record.recovery import recover
from dryward.record.writer import RecordWriter
from dryward.service.clock import FastClock
from dryward.service.foretell import Outlook, answer
from dryward.service.hands import SimulatedHands
from dryward.service.loop import Loop
from dryward.service.outlook import figures, question
from dryward.service.wiring import Devices, channels, lines
from dryward.settings import Settings
from dryward_hardware.keeper.in_process import InProcessKeeper

Watcher = Callable[[int, Inputs, Commands, State], None]
Owner = Callable[[Commands], Sequence[Ask]]
"""What a simulated owner asks for after a tick, such as taking out a piece that was announced as done."""


Foresee = Callable[[Outlook, State], None]
FORESEE_EVERY_S = 86_400.0


class RunRefused(Exception):
    """The engine refused to load or start; the text is its answer."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ended:
    """A simulated run at its end."""

    layout: Layout
    state: State
    run_id: str
    ticks: int
    wall_s: float


def with_period(chamber: Chamber, period_s: float) -> Chamber:
    """The same chamber with ticks further apart, and a heater cycle that is a whole number of them."""
    cycle_s = max(chamber.control.cycle_s, 8.0 * period_s)
    return replace(chamber, period_s=period_s, control=replace(chamber.control, cycle_s=cycle_s))


def run_fast(
    settings: Settings,
    program: Program,
    pieces: Sequence[Piece],
    *,
    run_id: str,
    period_s: float,
    record: Path | None,
    who: str,
    watch: Watcher | None = None,
    owner: Owner | None = None,
    after_h: float = 0.0,
    foresee: Foresee | None = None,
) -> Ended:
    """Load ``pieces``, start ``program`` and turn until the run has ended and ``after_h`` more have passed.

    With a record, ``foresee`` is given a forecast of every piece each simulated day, made from the record as the daemon does.
    Every device of ``settings`` must be simulated or recorded. Raises RunRefused, DeviceError.
    """
    chamber = with_period(settings.chamber, period_s)
    layout = lay_out(chamber)
    devices = Devices(settings)
    began_utc_s = float(int(time.time()))
    first_tick = 1 if record is None else max(1, recover(record, at_utc_s=began_utc_s).next_tick)
    clock = FastClock(first_tick=first_tick, period_s=period_s, utc_s=began_utc_s)
    outputs = devices.simulated_outputs()
    kept = None if outputs is None else InProcessKeeper(outputs, lines(chamber), lease_s=max(3.0, 3.0 * period_s))
    state = first_state(layout, (first_tick - 1) * period_s)
    writer = None
    if record is not None:
        session = Session(chamber=chamber, first_tick=first_tick, stamp=clock.stamp(), version=__version__)
        writer = RecordWriter(record, session, threaded=False)
    loop = Loop(
        layout=layout,
        state=state,
        clock=clock,
        source=devices.source,
        channels=channels(chamber),
        hands=SimulatedHands(kept),
        writer=writer,
        after_turn=watch,
    )
    began = time.monotonic()
    try:
        _begin(loop, clock, (Load(pieces=tuple(pieces)), Start(program=program, run_id=run_id)), who)
        devices.hang(pieces)
        ended_tick = _until_end(loop, clock, devices, owner, after_h, _Daily(loop, record, foresee))
    finally:
        loop.close()
    return Ended(layout=layout, state=loop.view.state, run_id=run_id, ticks=ended_tick, wall_s=time.monotonic() - began)


def take_out_when_done(commands: Commands) -> Sequence[Ask]:
    """An owner who is at hand: takes out each piece as it is announced."""
    return [Pull(piece=e.subject) for e in commands.events if e.kind == "piece-done"]


def _begin(loop: Loop, clock: FastClock, asked: Sequence[Ask], who: str) -> None:
    pending = [loop.post(_request(ask, who)) for ask in asked]
    loop.turn(clock.next_tick() or 1)
    for waiting in pending:
        if waiting.reply is None or not waiting.reply.accepted:
            raise RunRefused("no answer" if waiting.reply is None else waiting.reply.text)


class _Daily:
    """Looks ahead once in a simulated day."""

    def __init__(self, loop: Loop, record: Path | None, foresee: Foresee | None) -> None:
        self._loop, self._record, self._foresee = loop, record, foresee
        self._known: Outlook | None = None
        self._next_s = loop.view.state.now + FORESEE_EVERY_S

    def look(self, state: State) -> None:
        if self._record is None or self._foresee is None or state.now < self._next_s or state.run.phase in ENDED:
            return
        self._next_s += FORESEE_EVERY_S
        loop = self._loop
        if loop.writer is not None:
            loop.writer.flush()
        self._known = outlook = answer(question(loop.layout, self._record, state, self._known))
        loop.show(figures(outlook))
        if outlook.curves != state.curves:
            loop.tell(told(outlook.curves))
        self._foresee(outlook, state)


def _until_end(
    loop: Loop, clock: FastClock, devices: Devices, owner: Owner | None, after_h: float, daily: _Daily
) -> int:
    end_at: float | None = None
    while (tick := clock.next_tick()) is not None:
        commands = loop.turn(tick)
        state = loop.view.state
        if owner is not None and commands.events:
            for ask in owner(commands):
                loop.post(_request(ask, "simulated owner"))
                if isinstance(ask, Pull):
                    devices.take_off(ask.piece)
        daily.look(state)
        if end_at is None and (state.run.phase in ENDED or loop.finished):
            end_at = state.now + after_h * HOUR_S
        if end_at is not None and state.now >= end_at:
            return tick
    return 0


def _request(ask: Ask, who: str) -> Request:
    return Request(request_id=str(uuid.uuid4()), ask=ask, who=who, origin="rehearsal")
