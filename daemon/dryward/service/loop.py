"""The loop: poll, decide, act, remember. One thread owns the engine's state; everybody else posts and reads.

``turn`` is one tick. In real time ``run`` calls it as the clock says; rehearsals call it as fast as they can. Requests
are posted from any thread and answered with the tick that took them; the state is frozen, so that any thread may
read the newest ``view`` without a lock.
"""

from __future__ import annotations

import logging
from collections import deque
from collections.abc import Callable, Mapping
from contextlib import ExitStack
from dataclasses import dataclass, field, replace
from threading import Event
from typing import Protocol

from dryward.core.commands import Commands, Reply
from dryward.core.engine import step
from dryward.core.inputs import Inputs, Notice, Reading, Request, Weighing
from dryward.core.layout import Layout
from dryward.core.progress import current_step
from dryward.core.rh_follow import wanted_rh_pct
from dryward.core.state import State, energy_j, operations
from dryward.record.moments import Mark, Stamp
from dryward.record.writer import RecordWriter
from dryward.service.hands import Hands
from dryward.service.marks import marks
from dryward_hardware.ports import Batch, Source

log = logging.getLogger("dryward")
FIGURES_EVERY_S = 60.0


class Ticking(Protocol):
    """A chamber clock: real or simulated."""

    period_s: float
    late_s: float

    def next_tick(self) -> int | None: ...

    def stop(self) -> None: ...

    def stamp(self) -> Stamp: ...

    def wall_step_s(self) -> float | None: ...


@dataclass(slots=True)
class Pending:
    """A posted request and, once a tick has taken it, its answer."""

    request: Request
    done: Event = field(default_factory=Event)
    reply: Reply | None = None


@dataclass(frozen=True, slots=True)
class View:
    """What the last tick left for others to look at."""

    tick: int
    state: State
    stamp: Stamp
    on: frozenset[str]


class Loop:
    """Owns the engine's state. ``after_turn`` is called in the loop's thread with each tick's inputs, commands and state."""

    def __init__(
        self,
        *,
        layout: Layout,
        state: State,
        clock: Ticking,
        source: Source,
        channels: dict[str, str],
        hands: Hands,
        writer: RecordWriter | None,
        notices: tuple[Notice, ...] = (),
        after_turn: Callable[[int, Inputs, Commands, State], None] | None = None,
    ) -> None:
        self.layout = layout
        self.clock = clock
        self.writer = writer
        self.finished = False  # the source has nothing more to give
        self._source = source
        self._channels = channels
        self._hands = hands
        self._state = state
        self._posted: deque[Pending] = deque()
        self._notices: deque[Notice] = deque(notices)
        self._marks: deque[tuple[Mark, Event]] = deque()
        self._after_turn = after_turn
        self._record_ok = all(n.kind != "record-failing" for n in notices)
        self._last_tick: int | None = None
        self.view = View(-1, state, clock.stamp(), frozenset())
        self._shown: Mapping[str, float] = {}

    def post(self, request: Request) -> Pending:
        """Hand in a request from any thread; wait for ``Pending.done``."""
        pending = Pending(request)
        self._posted.append(pending)
        return pending

    def tell(self, notice: Notice) -> None:
        """Hand in something the shell found out, from any thread."""
        self._notices.append(notice)

    def mark(self, mark: Mark) -> Event:
        """Put a mark on record with the next tick, from any thread; the event is set when the record has been given it."""
        given = Event()
        self._marks.append((mark, given))
        return given

    def show(self, figures: Mapping[str, float]) -> None:
        """Have these recorded with the engine's own figures from now on, from any thread: what others have worked out."""
        self._shown = figures

    def run(self, fed: Callable[[], None] | None = None) -> None:
        """Turn with every tick of the clock until it is stopped. ``fed`` is called after each full turn."""
        while (tick := self.clock.next_tick()) is not None:
            self.turn(tick)
            if fed is not None:
                fed()

    def turn(self, tick: int) -> Commands:
        """Read, decide, act, remember: one tick."""
        now = tick * self.layout.chamber.period_s
        stamp = self.clock.stamp()
        taken = [self._posted.popleft() for _ in range(len(self._posted))]
        inputs = self._inputs(tick, now, taken)
        before = self._state
        after, commands = step(self.layout, before, inputs, now)
        self._notices.extend(self._hands.want(commands.on, now))
        self._state = after
        self.view = View(tick, after, stamp, self._hands.actual())
        if self.writer is not None:
            self._remember(tick, now, stamp, inputs, commands, before, after)
        for event in commands.events:
            if event.severity != "log":
                log.log(_LEVEL[event.severity], "%s", event.text)
        replies = {r.request_id: r for r in commands.replies}
        for pending in taken:
            pending.reply = replies.get(pending.request.request_id)
            pending.done.set()
        if self._after_turn is not None:
            self._after_turn(tick, inputs, commands, after)
        return commands

    def close(self) -> None:
        """Make the outputs safe, then close devices and record, whatever happens to one of them."""
        with ExitStack() as closing:
            for pending in self._posted:
                closing.callback(pending.done.set)
            if self.writer is not None:
                closing.callback(self.writer.close)
            closing.callback(self._source.close)
            closing.callback(self._hands.close)

    def _inputs(self, tick: int, now: float, taken: list[Pending]) -> Inputs:
        batch = self._source.poll(now)
        self.finished = batch.finished
        for note in batch.notes:
            log.warning("%s", note)
        if self._last_tick is not None and tick > self._last_tick + 1:
            self._notices.append(Notice("skipped-ticks", float(tick - self._last_tick - 1)))
        self._last_tick = tick
        wall_step_s = self.clock.wall_step_s()
        if wall_step_s is not None:
            self._notices.append(Notice("clock-stepped", wall_step_s))
        notices = tuple(self._notices.popleft() for _ in range(len(self._notices)))
        return Inputs(
            readings=self._readings(batch),
            weighings=tuple(Weighing(w.piece, w.weight_g, w.sampled_s) for w in batch.weights),
            requests=tuple(p.request for p in taken),
            notices=notices,
        )

    def _readings(self, batch: Batch) -> tuple[Reading, ...]:
        names = self._channels
        return tuple(
            [Reading(names[s.channel], s.value, s.sampled_s, s.fault) for s in batch.samples if s.channel in names]
        )

    def _remember(
        self, tick: int, now: float, stamp: Stamp, inputs: Inputs, commands: Commands, before: State, after: State
    ) -> None:
        assert self.writer is not None
        figures = (
            {**_figures(self.layout, after), **self._shown}
            if now % FIGURES_EVERY_S < self.layout.chamber.period_s or commands.keep
            else None
        )
        handed = [self._marks.popleft() for _ in range(len(self._marks))]
        told = tuple(mark for mark, _ in handed) + marks(before, after)
        kept = replace(commands, keep=True) if handed else commands  # what somebody waits for is written at once
        self.writer.put(tick, stamp, inputs, kept, after, marks=told, figures=figures)
        for _, given in handed:
            given.set()
        if tick % 8 == 0:
            self._watch_record()

    def _watch_record(self) -> None:
        """F20: tell the engine when the record begins to fail and when it is well again."""
        assert self.writer is not None
        health = self.writer.health()
        well, why = health.ok and self.writer.alive(), health.why or "the thread that writes it has ended"
        if well != self._record_ok:
            self._record_ok = well
            self._notices.append(Notice("record-well") if well else Notice("record-failing", 0.0, why))


def _figures(layout: Layout, state: State) -> dict[str, float]:
    """What the engine computed and a review draws."""
    control = state.control
    figures = {"heater_duty_pct": 100.0 * control.duty, "energy_kwh": energy_j(layout, state) / 3.6e6}
    if control.setpoint_c is not None:
        figures["air_setpoint_c"] = control.setpoint_c
    step_now = current_step(state.run)
    if step_now is not None and (rh_pct := wanted_rh_pct(step_now, state.pieces)) is not None:
        figures["rh_setpoint_pct"] = rh_pct
    figures.update({f"{name}_operations": float(count) for name, count in operations(state).items()})
    figures.update({f"weight_g:{p.piece.name}": p.weight_g for p in state.pieces if p.weight_g is not None})
    return figures


_LEVEL = {"notice": logging.INFO, "warning": logging.WARNING, "alarm": logging.ERROR, "trip": logging.CRITICAL}
