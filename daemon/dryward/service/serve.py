"""The daemon: joins settings, keeper, devices, record, loop and doors, and takes them apart again in order.

On the way up the keeper comes first, before any thread and any sensor. On the way down its outputs are made safe first,
then the doors close, then devices and record. Ending in order leaves a run in the record: it goes on at the next
start by the outage rule of the fault contract (F16).
"""

from __future__ import annotations

import logging
import os
import signal
import threading
import time
import uuid
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

from dryward import __version__
from dryward.core.commands import Commands, Event
from dryward.core.inputs import Inputs, Load, Notice, Pull, Request, Resume
from dryward.core.layout import lay_out
from dryward.core.phases import ACTIVE, HELD
from dryward.core.state import State
from dryward.doors.calibration_watch import CalibrationWatch
from dryward.doors.outward import Outward, open_outward
from dryward.doors.socket_door import SocketDoor
from dryward.record.lines import NoSuchRun
from dryward.record.moments import RunBegan, Session, utc_seconds
from dryward.record.queries import ReadError, Record
from dryward.record.writer import RecordWriter
from dryward.service.awake import Awake, StateCopy, count_starts, forgive_starts, left_behind, wake
from dryward.service.care import care
from dryward.service.clock import Clock, boot_id
from dryward.service.hands import Hands, KeptHands, SimulatedHands, start_keeper
from dryward.service.jobs import ANSWER_S, Jobs, Planned
from dryward.service.lock import ChamberLock
from dryward.service.loop import Loop, Pending
from dryward.service.notebook import Notebook
from dryward.service.notify import Notifier, watchdog_s
from dryward.service.outlook import Forecaster
from dryward.service.persist import outputs_persist
from dryward.service.snapshot import glance, snapshot
from dryward.service.summary import summary, worth_a_summary
from dryward.service.visits import Due
from dryward.service.wiring import Devices, channels, lines, scale_calibrations
from dryward.settings import Settings
from dryward_hardware.keeper.client import KeeperClient
from dryward_hardware.keeper.in_process import InProcessKeeper
from dryward_hardware.ports import DeviceError

log = logging.getLogger("dryward")
UNREADABLE = (ReadError, OSError)


class Daemon:
    """One chamber's daemon. ``speed`` above 1 is for simulated chambers only. Raises Taken, DeviceError, OSError."""

    def __init__(self, settings: Settings, *, speed: float = 1.0) -> None:
        self._settings = settings
        self._layout = lay_out(settings.chamber)
        self._record = Path(settings.record.path)
        runtime = Path(settings.service.socket).parent
        self._copy = StateCopy(runtime / f"{settings.chamber.name}.state")
        self._starts = runtime / f"{settings.chamber.name}.starts.json"
        self._calibrations = CalibrationWatch(settings)
        self._ending = False
        self._closing = ExitStack()
        try:
            self._open(speed)
        except BaseException:
            self._closing.close()
            raise

    def _open(self, speed: float) -> None:
        """What is opened is closed in the other order, also when something on the way fails."""
        settings, closing = self._settings, self._closing
        socket = Path(settings.service.socket)
        for used in (self._record, socket):
            closing.callback(ChamberLock(used).close)
        crash = count_starts(self._starts)
        keeper = self._start_keeper(socket.with_name("lines"))
        awake = wake(self._layout, self._record, self._copy)
        for why in (awake.why, awake.lost):
            if why:
                log.warning("%s", why)
        self._unsure = awake.unsure
        self._devices = Devices(settings)
        with ExitStack() as parts:  # until the loop has them
            parts.callback(self._devices.source.close)
            if awake.state.pieces:
                self._devices.hang([p.piece for p in awake.state.pieces if p.status != "pulled"])
            self._clock = Clock(first_tick=awake.first_tick, period_s=settings.chamber.period_s, speed=speed)
            closing.callback(self._clock.close)
            self._writer = RecordWriter(self._record, self._session(awake), commit_s=settings.record.commit_s)
            parts.callback(self._writer.close)
            self._hands = self._make_hands(keeper)
            self._loop = Loop(
                layout=self._layout,
                state=awake.state,
                clock=self._clock,
                source=self._devices.source,
                channels=channels(settings.chamber),
                hands=self._hands,
                writer=self._writer,
                notices=self._first_notices(awake, crash),
                after_turn=self._after_turn,
            )
            parts.pop_all()
        closing.callback(self._loop.close)
        self._doors_open = threading.Event()
        self._start_housekeeping()
        door = SocketDoor(
            socket,
            group=settings.service.socket_group,
            post=self._post,
            status=self._status,
            flush=self._writer.flush,
            plans=self._jobs,
            notes=Notebook(self._record, self._loop.mark),
            name_run=self._name_run,
        )
        closing.callback(door.close)
        self._outward = self._open_outward(door)
        self._doors_open.set()
        closing.callback(self._hands.close)

    def _open_outward(self, door: SocketDoor) -> Outward | None:
        outward = open_outward(
            self._settings,
            view=lambda: self._loop.view,
            status=self._status,
            glance=lambda: glance(self._layout, self._loop.view),
            answer=door.answer,
            tell=self._loop.tell,
            due=self._due,
            said=self._copy.said,
        )
        if outward is not None:
            self._closing.callback(outward.close)
            outward.start()
            if self._settings.alerts.summary_at:
                self._jobs.every_day(self._settings.alerts.summary_at, self._sum_up)
        return outward

    def run(self) -> None:
        """Serve until SIGTERM or SIGINT; then make everything safe and close."""
        with _ended_by_signals(self.stop):
            self.turn_until_stopped()

    def turn_until_stopped(self) -> None:
        """Serve until ``stop`` is called; then make everything safe and close."""
        notifier = Notifier()
        watched = watchdog_s() is not None
        announced = False
        said = ""

        def after_each() -> None:
            nonlocal announced, said
            announced = announced or notifier.ready()
            run = self._loop.view.state.run
            if (now_doing := f"{run.phase} {run.run_id}") != said:
                said = now_doing
                notifier.status(said)
            if watched and self._writer.alive():
                notifier.well()

        log.info("dryward %s serves %s on %s", __version__, self._layout.chamber.name, self._settings.service.socket)
        try:
            self._loop.run(after_each)
        finally:
            self._ending = True
            notifier.stopping()
            self._closing.close()
        forgive_starts(self._starts)
        log.info("dryward has ended in order; every output is safe%s", left_behind(self._layout, self._loop.view.state))

    def stop(self) -> None:
        """End after the tick in hand; may be called from a signal handler or another thread."""
        if not self._ending:
            self._clock.stop()

    def _start_keeper(self, used: Path) -> KeeperClient | None:
        """Start the keeper; one folder can hold the files of one keeper only."""
        if any(line.gpio is not None for line in lines(self._settings.chamber)):
            self._closing.callback(ChamberLock(used).close)
        keeper = start_keeper(self._settings)
        if keeper is not None:
            self._closing.callback(keeper.close)
        return keeper

    def _make_hands(self, keeper: KeeperClient | None) -> Hands:
        outputs = self._devices.simulated_outputs()
        if keeper is not None:
            return KeptHands(keeper, outputs)
        if outputs is None:
            return SimulatedHands()
        chamber = self._settings.chamber
        return SimulatedHands(InProcessKeeper(outputs, lines(chamber), lease_s=max(3.0, 3.0 * chamber.period_s)))

    def _start_housekeeping(self) -> None:
        loop = self._loop
        self._jobs = Jobs(post=self._post, mark=loop.mark, name_run=self._name_run, say=self._tell_people)
        self._closing.callback(self._jobs.close)
        self._take_up_plans()
        self._jobs.every_night(self._night)
        self._forecaster = Forecaster(
            self._layout,
            self._record,
            self._settings.alerts,
            view=lambda: loop.view,
            flush=self._writer.flush,
            tell=loop.tell,
            show=loop.show,
        )
        self._closing.callback(self._forecaster.close)
        self._forecaster.start()

    def _first_notices(self, awake: Awake, crash: Notice | None) -> tuple[Notice, ...]:
        """What the engine is told in the first tick: the outage, a crash loop (F24), a damaged record (F20), lines that persist."""
        found = [*awake.notices, *([crash] if crash is not None else [])]
        if awake.why:
            found.append(Notice("record-failing", 0.0, awake.why))
        if awake.lost:
            found.append(Notice("state-lost", 0.0, awake.lost))
        service = self._settings.service
        strict = service.pin_factory == "lgpio" and not service.allow_heat_while_outputs_persist
        if strict and (why := outputs_persist()):
            found.append(Notice("heat-forbidden", 0.0, why))
        return tuple(found)

    def _session(self, awake: Awake) -> Session:
        run = awake.state.run
        live = None
        if run.phase in ACTIVE and run.program is not None:
            pieces = tuple(p.piece for p in awake.state.pieces)
            began_tick = round(run.started_s / self._layout.chamber.period_s)
            live = (began_tick, RunBegan(run_id=run.run_id, program=run.program, pieces=pieces))
        return Session(
            chamber=self._layout.chamber,
            first_tick=awake.first_tick,
            stamp=self._clock.stamp(),
            boot_id=boot_id(),
            version=__version__,
            start_state=None if awake.fresh else awake.state,
            live_run=live,
            scale_calibrations=scale_calibrations(self._settings),
        )

    def _take_up_plans(self) -> None:
        self._writer.flush()
        try:
            with Record(self._record) as past:
                waiting = [p for p in past.plans() if not p.outcome]
        except (*UNREADABLE, LookupError, ValueError) as error:
            log.warning("planned starts could not be read: %s", error)
            return
        for plan in waiting:
            at_utc_s = utc_seconds(plan.at_utc)
            self._jobs.take_up(Planned(plan_id=plan.plan_id, program=plan.program, at_utc_s=at_utc_s, who=plan.who))

    def _after_turn(self, tick: int, inputs: Inputs, commands: Commands, state: State) -> None:
        """What follows from a tick outside the engine: the copy of the state, the simulated rack, the scheduler."""
        if commands.keep or commands.events or state.run.phase in ACTIVE:
            self._copy.write(tick, self._loop.view.stamp, state, commands.events)
        if self._outward is not None:
            self._outward.after_turn(commands.events)
        accepted = {r.request_id for r in commands.replies if r.accepted}
        for request in inputs.requests:
            if request.request_id not in accepted:
                continue
            try:
                match request.ask:
                    case Load(pieces=pieces):
                        self._devices.hang(pieces)
                    case Pull(piece=piece):
                        self._devices.take_off(piece)
                    case _:
                        pass
            except DeviceError as error:  # a simulated rack that will not: the run goes on as it would without one
                log.error("%s", error)
        for notice in inputs.notices:
            if notice.kind == "clock-stepped":
                log.info("the wall clock stepped by %+.1f s; control does not follow it", notice.value)
                self._jobs.rearm()
        for device in self._devices.begun_again():
            self._loop.tell(Notice("reader-lost", 1.0, device))
        if self._unsure is not None:
            self._learn_outage(state)

    def _learn_outage(self, state: State) -> None:
        """F16 for a machine whose clock is set only after dryward has started: a run that was held for that goes on."""
        assert self._unsure is not None
        if state.run.phase not in HELD:
            self._unsure = None  # somebody has decided
            return
        away_s = self._unsure.learn(self._loop.view.stamp)
        if away_s is None or state.run.phase == "holding":
            return
        self._unsure = None
        if 0.0 <= away_s <= self._settings.chamber.limits.outage_ramp_s:
            log.info("the clock is set now: the power was out for %.0f s", away_s)
            self._loop.post(Request(request_id=str(uuid.uuid4()), ask=Resume(), who="dryward", origin="clock"))

    def _post(self, request: Request) -> Pending:
        """Hand a request to the loop, unless the record knows that it was answered before: a replayed message does nothing."""
        try:
            with Record(self._record) as past:
                before = past.reply_to(request.request_id)
        except UNREADABLE:
            before = None  # the engine itself remembers the newest
        if before is None:
            return self._loop.post(request)
        pending = Pending(request, reply=replace(before, accepted=False, text="This request was carried out before."))
        pending.done.set()
        return pending

    def _night(self) -> None:
        """Back the record up, thin what is old, and say what somebody has to see to."""
        say = None if self._outward is None else self._outward.say
        care(self._record, self._writer, self._settings.record, say, at_utc_s=time.time())

    def _tell_people(self, event: Event) -> None:
        """Tell broker and people something. For a thread that may be there before the doors are, and waits for them."""
        if self._doors_open.wait(ANSWER_S) and self._outward is not None:
            self._outward.say(event)

    def _sum_up(self) -> None:
        """Tell people and broker how the run has done in the last day."""
        state = self._loop.view.state
        if self._outward is not None and worth_a_summary(state):
            self._writer.flush()
            self._outward.say(summary(self._record, state.run.run_id, self._status()))

    def _due(self) -> Due | None:
        view = self._loop.view
        return self._forecaster.prospect.due(view.state, view.stamp.utc_s)

    def _status(self) -> dict[str, Any]:
        told = {"reader": self._devices.reader_status(), "calibrations": self._calibrations.told()}
        now = snapshot(self._layout, self._loop.view, self._writer.health(), self._forecaster.prospect)
        return now | told | {"planned": self._jobs.planned()}

    def _name_run(self) -> str:
        """Name a run by the time of day; a clock that stepped back must not give a name twice."""
        name = f"{self._layout.chamber.name}-{time.strftime('%Y%m%d-%H%M%S')}"
        try:
            with Record(self._record) as past:
                past.run(name)
        except NoSuchRun:
            return name
        except (*UNREADABLE, ValueError):
            pass
        return f"{name}-{uuid.uuid4().hex[:4]}"


@contextmanager
def _ended_by_signals(stop: Callable[[], None]) -> Iterator[None]:
    numbers = (signal.SIGTERM, signal.SIGINT)
    before = [signal.signal(number, lambda *_: stop()) for number in numbers]
    try:
        yield
    finally:
        for number, handler in zip(numbers, before, strict=True):
            signal.signal(number, handler)


def serve(settings: Settings, *, speed: float = 1.0) -> None:
    """Run the daemon of ``settings`` until it is told to end."""
    Daemon(settings, speed=speed).run()


def quiet_logging() -> None:
    """Log to stderr; under systemd with the priority in front, as sd-daemon(3) has it, so that the journal can sort by it."""
    form = "%(levelname)s %(message)s"
    logging.basicConfig(level=logging.INFO, format=form)
    if "JOURNAL_STREAM" in os.environ:
        for handler in logging.getLogger().handlers:
            handler.setFormatter(_ForJournal("%(message)s"))
    logging.getLogger("apscheduler").setLevel(logging.WARNING)


class _ForJournal(logging.Formatter):
    def format(self, record: logging.LogRecord) -> str:
        level = (
            2
            if record.levelno >= logging.CRITICAL
            else 3
            if record.levelno >= logging.ERROR
            else 4
            if record.levelno >= logging.WARNING
            else 6
        )
        # Every line of a message gets its own priority; a traceback would else be split at its line breaks.
        return "\n".join(f"<{level}>{line}" for line in super().format(record).splitlines())
