"""The daemon: joins settings, keeper, devices, record, loop and doors, and takes them apart again in order.

The keeper comes first, before any thread and any sensor; it goes last. Ending in order leaves a run in the record: it
goes on at the next start by the outage rule of the fault contract (F16).
"""

from __future__ import annotations

import logging
import signal
import time
from collections.abc import Callable
from contextlib import ExitStack
from pathlib import Path

from dryward import __version__
from dryward.core.commands import Commands
from dryward.core.inputs import Inputs, Load, Notice, Pull
from dryward.core.layout import lay_out
from dryward.core.phases import ACTIVE
from dryward.core.state import State
from dryward.doors.socket_door import SocketDoor
from dryward.record.moments import RunBegan, Session, utc_seconds
from dryward.record.queries import ReadError, Record
from dryward.record.writer import RecordWriter
from dryward.service.awake import Awake, count_starts, forgive_starts, wake, write_copy
from dryward.service.clock import Clock, boot_id
from dryward.service.hands import Hands, KeptHands, SimulatedHands
from dryward.service.jobs import Jobs, Planned
from dryward.service.lock import ChamberLock
from dryward.service.loop import Loop
from dryward.service.notify import Notifier, watchdog_s
from dryward.service.persist import outputs_persist
from dryward.service.snapshot import snapshot
from dryward.service.wiring import Devices, channels, lines
from dryward.settings import Settings
from dryward_hardware.keeper.client import KeeperClient
from dryward_hardware.keeper.in_process import InProcessKeeper

log = logging.getLogger("dryward")


class Daemon:
    """One chamber's daemon. ``speed`` above 1 is for simulated chambers only. Raises Taken, DeviceError, OSError."""

    def __init__(self, settings: Settings, *, speed: float = 1.0) -> None:
        self._settings = settings
        self._layout = lay_out(settings.chamber)
        self._runtime = Path(settings.service.socket).parent
        self._copy = self._runtime / f"{settings.chamber.name}.state.json"
        self._starts = self._runtime / f"{settings.chamber.name}.starts.json"
        self._closing = ExitStack()
        try:
            self._open(speed)
        except BaseException:
            self._closing.close()
            raise

    def _open(self, speed: float) -> None:
        settings, layout = self._settings, self._layout
        record = Path(settings.record.path)
        lock = ChamberLock(record)
        self._closing.callback(lock.close)
        self._runtime.mkdir(parents=True, exist_ok=True)
        keeper = self._keeper()
        crash = count_starts(self._starts)
        awake = wake(layout, record, self._copy)
        if awake.why:
            log.warning("%s", awake.why)
        self._devices = Devices(settings)
        if awake.state.pieces:
            self._devices.hang([p.piece for p in awake.state.pieces if p.status != "pulled"])
        clock = Clock(first_tick=awake.first_tick, period_s=settings.chamber.period_s, speed=speed)
        self._writer = RecordWriter(record, self._session(awake, clock), commit_s=settings.record.commit_s)
        notices = [*awake.notices, *([crash] if crash else []), *self._heat_notices()]
        self._loop = Loop(
            layout=layout,
            state=awake.state,
            clock=clock,
            source=self._devices.source,
            channels=channels(settings.chamber),
            hands=self._hands(keeper),
            writer=self._writer,
            notices=tuple(notices),
            after_turn=self._after_turn,
        )
        self._closing.callback(self._loop.close)
        self._clock = clock
        name_run = self._name_run
        self._jobs = Jobs(post=self._loop.post, mark=self._loop.mark, name_run=name_run)
        self._closing.callback(self._jobs.close)
        self._take_up_plans(record)
        door = SocketDoor(
            Path(settings.service.socket),
            group=settings.service.socket_group,
            post=self._loop.post,
            status=self._status,
            flush=self._writer.flush,
            plans=self._jobs,
            name_run=name_run,
        )
        self._closing.callback(door.close)

    def run(self) -> None:
        """Serve until SIGTERM or SIGINT; then make everything safe and close."""
        for number in (signal.SIGTERM, signal.SIGINT):
            signal.signal(number, lambda *_: self.stop())
        self.turn_until_stopped()

    def turn_until_stopped(self) -> None:
        """Serve until ``stop`` is called; then make everything safe and close."""
        notifier = Notifier()
        watched = watchdog_s() is not None
        announced = False

        def after_each() -> None:
            nonlocal announced
            if not announced:
                announced = notifier.ready()
            if watched and self._writer.alive():
                notifier.well()

        log.info("dryward %s serves %s on %s", __version__, self._layout.chamber.name, self._settings.service.socket)
        try:
            self._loop.run(after_each)
        finally:
            notifier.stopping()
            self._closing.close()
        forgive_starts(self._starts)

    def stop(self) -> None:
        """End after the tick in hand; may be called from a signal handler or another thread."""
        self._clock.stop()

    def _keeper(self) -> KeeperClient | None:
        """Start the keeper where there are real lines (or mock pins); simulated lines need none."""
        chamber = self._settings.chamber
        real = [line for line in lines(chamber) if line.gpio is not None]
        if not real:
            return None
        return KeeperClient(
            real,
            factory=self._settings.service.pin_factory,
            trace_path=self._runtime / f"{chamber.name}.outputs.trace",
            state_path=self._runtime / f"{chamber.name}.outputs.json",
        )

    def _hands(self, keeper: KeeperClient | None) -> Hands:
        outputs = self._devices.simulated_outputs()
        if keeper is not None:
            return KeptHands(keeper, outputs)
        if outputs is None:
            return SimulatedHands()
        chamber = self._settings.chamber
        return SimulatedHands(InProcessKeeper(outputs, lines(chamber), lease_s=max(3.0, 3.0 * chamber.period_s)))

    def _heat_notices(self) -> list[Notice]:
        service = self._settings.service
        if service.pin_factory != "lgpio" or service.allow_heat_while_outputs_persist:
            return []
        why = outputs_persist()
        return [Notice("heat-forbidden", 0.0, why)] if why else []

    def _session(self, awake: Awake, clock: Clock) -> Session:
        run = awake.state.run
        live = None
        if run.phase in ACTIVE and run.program is not None:
            pieces = tuple(p.piece for p in awake.state.pieces)
            began_tick = round(run.started_s / self._layout.chamber.period_s)
            live = (began_tick, RunBegan(run_id=run.run_id, program=run.program, pieces=pieces))
        return Session(
            chamber=self._layout.chamber,
            first_tick=awake.first_tick,
            stamp=clock.stamp(),
            boot_id=boot_id(),
            version=__version__,
            start_state=None if awake.fresh else awake.state,
            live_run=live,
        )

    def _take_up_plans(self, record: Path) -> None:
        self._writer.flush()
        try:
            with Record(record) as past:
                waiting = [p for p in past.plans() if not p.outcome]
        except (ReadError, OSError, LookupError, ValueError) as error:
            log.warning("planned starts could not be read: %s", error)
            return
        for plan in waiting:
            at_utc_s = utc_seconds(plan.at_utc)
            self._jobs.take_up(Planned(plan_id=plan.plan_id, program=plan.program, at_utc_s=at_utc_s, who=plan.who))

    def _after_turn(self, tick: int, inputs: Inputs, commands: Commands, state: State) -> None:
        """What follows from a tick outside the engine: the simulated rack, the copy of the state, the scheduler."""
        if commands.keep:
            write_copy(self._copy, tick, state)
        accepted = {r.request_id for r in commands.replies if r.accepted}
        for request in inputs.requests:
            if request.request_id not in accepted:
                continue
            match request.ask:
                case Load(pieces=pieces):
                    self._devices.hang(pieces)
                case Pull(piece=piece):
                    self._devices.take_off(piece)
                case _:
                    pass
        if any(n.kind == "clock-stepped" for n in inputs.notices):
            self._jobs.rearm()

    def _status(self) -> dict[str, object]:
        return snapshot(self._layout, self._loop.view, self._writer.health()) | {"planned": self._jobs.planned()}

    def _name_run(self) -> str:
        return f"{self._layout.chamber.name}-{time.strftime('%Y%m%d-%H%M%S')}"


def serve(settings: Settings, *, speed: float = 1.0, ready: Callable[[Daemon], None] | None = None) -> None:
    """Run the daemon of ``settings`` until it is told to end."""
    daemon = Daemon(settings, speed=speed)
    if ready is not None:
        ready(daemon)
    daemon.run()


def quiet_logging() -> None:
    """Log to stderr in lines the journal can read."""
    logging.basicConfig(level=logging.INFO, format="%(levelname)s %(message)s")
    logging.getLogger("apscheduler").setLevel(logging.WARNING)
