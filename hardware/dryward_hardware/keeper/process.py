"""The keeper program: holds the lines, follows the lease, makes everything safe when its pipe or its lease ends.

Its pipe is one end of a socketpair of whole messages, inherited from the main process. It is told

    want NS [NAME ...]      wanted outputs, as decided at NS nanoseconds of CLOCK_BOOTTIME; renews the lease from then

and says

    ready                   every line is claimed and safe
    is NS [NAME ...]        answer to the want of NS (0: nobody asked): outputs that are on
    trouble TEXT            something is wrong, the keeper goes on
    failed TEXT             something is wrong, the keeper makes safe what it can and ends

The end of the pipe is the law; that the parent is gone (while another process still holds the pipe) counts as its
end. No signal that can be ignored ends the keeper: the service manager may signal every process of a service, and
then the keeper is the one that must live until the lines are safe.

It never waits for its parent, and its files belong on a RAM file system: a stalled SD card must not stall it.
"""

from __future__ import annotations

import os
import select
import signal
import sys
import time
from contextlib import suppress
from math import ceil

from dryward_hardware.keeper import rules
from dryward_hardware.keeper.job import Job, read_job
from dryward_hardware.keeper.lock import take_lock
from dryward_hardware.keeper.memory import recall, remember, this_boot
from dryward_hardware.keeper.pins import Pins, slim_gpiozero
from dryward_hardware.keeper.trace import Trace
from dryward_hardware.lines import DeviceError

TYPE_CHECKING = False
if TYPE_CHECKING:  # typing alone would cost this process a megabyte
    from typing import NoReturn

LOOK_S = 0.25  # how often the guards and the parent are looked at when nothing arrives
LOCK_S = 2.0  # an earlier keeper whose main process died is gone within one
MESSAGE_BYTES = 4096
BACKLOG = 1000  # messages read at one go: not even a main process gone wild keeps the lease from being looked at
IGNORED = ("SIGINT", "SIGTERM", "SIGHUP", "SIGQUIT", "SIGABRT", "SIGUSR1", "SIGUSR2", "SIGALRM", "SIGPIPE", "SIGTSTP")


def now_ns() -> int:
    """Return the clock that keeper and client share: it never steps, and it counts a suspended machine's sleep."""
    return time.clock_gettime_ns(time.CLOCK_BOOTTIME)


class Pipe:
    """The keeper's end. Reads what is there, writes what fits, and never waits."""

    def __init__(self, fd: int) -> None:
        os.set_blocking(fd, False)
        self.fd = fd

    def say(self, text: str) -> None:
        with suppress(OSError):  # a full pipe loses the message; a broken one is noticed by reading
            os.write(self.fd, text.encode()[:MESSAGE_BYTES])

    def latest_want(self) -> str | None:
        """Return the last message that has arrived, or "" for none. None: the pipe has ended."""
        latest = ""
        for _ in range(BACKLOG):
            try:
                message = os.read(self.fd, MESSAGE_BYTES)
            except BlockingIOError:
                break
            except OSError:
                return None
            if not message:
                return None
            latest = message.decode()
        return latest


class Keeper:
    """The lines of one job, claimed and safe from the start on. Raises DeviceError or OSError."""

    def __init__(self, job: Job, pipe: Pipe) -> None:
        self._job = job
        self._pipe = pipe
        self._parent = os.getppid()
        self._boot = this_boot()
        self._trace = Trace(job.trace_path)
        remembered = recall(job.state_path, self._boot)
        self._pins = Pins(job.lines, factory=job.factory, record=Trace(job.levels_path).offer)
        self._keeping, changes = rules.begin(job.lines, remembered, now_ns() / 1e9)
        self._driven = {line.name: line.safe_on for line in job.lines}
        self._remember()
        for change in changes:
            self._tell(change)
        pipe.say("ready")

    def run(self) -> None:
        """Keep until the pipe ends; return with every output safe."""
        poller = select.poll()
        poller.register(self._pipe.fd, select.POLLIN)
        while True:
            poller.poll(self._patience_ms())
            want = self._pipe.latest_want()
            if want is None:
                return self.make_safe("pipe-end")
            if os.getppid() != self._parent:
                return self.make_safe("parent-gone")
            self._follow(want)

    def make_safe(self, why: str) -> None:
        """End the lease and drive every line to its safe state, also one that is thought safe, past any that fails."""
        self._keeping, _ = rules.decide(self._job.lines, rules.lapse(self._keeping, why), now_ns() / 1e9)
        for line in sorted(self._job.lines, key=lambda line: line.name != "heater"):
            try:
                self._pins.switch(line.name, on=line.safe_on)
            except Exception as error:
                self._pipe.say(f"trouble output {line.name} could not be made safe: {error}")
            else:
                if self._driven[line.name] != line.safe_on:
                    self._tell(rules.Change(line.name, line.safe_on, why))
        self._remember()

    def _patience_ms(self) -> int:
        left_s = self._keeping.lease_ends_s - now_ns() / 1e9
        return ceil(1000 * (left_s if 0 < left_s < LOOK_S else LOOK_S))

    def _follow(self, want: str) -> None:
        asked_ns = 0
        if want:
            word, stamp, *names = want.split(" ")
            if word != "want":
                raise ValueError(f"not a message: {want[:40]!r}")
            asked_ns = int(stamp)
            # A want that lay in the pipe while this process was stopped is as old as its stamp says.
            ends_s = min(asked_ns, now_ns()) / 1e9 + self._job.lease_s
            self._keeping = rules.renew(self._keeping, frozenset(names), lease_ends_s=ends_s)
        self._keeping, changes = rules.decide(self._job.lines, self._keeping, now_ns() / 1e9)
        self._switch(tuple(change for change in changes if not change.on))
        if any(change.output != rules.HEARTBEAT for change in changes):
            # Between off and on: whenever this process is killed, the memory says "on" at least as long as it is.
            self._remember()
        self._switch(tuple(change for change in changes if change.on))
        if want or changes:
            self._pipe.say(" ".join(["is", str(asked_ns), *self._on()]))

    def _on(self) -> list[str]:
        """Return what is on as the lines themselves read; of a simulated line, as it was switched."""
        read = {name: self._pins.reads_on(name) for name in self._driven}
        return sorted(name for name, on in self._driven.items() if (on if read[name] is None else read[name]))

    def _switch(self, changes: tuple[rules.Change, ...]) -> None:
        for change in changes:
            self._pins.switch(change.output, on=change.on)
            self._driven[change.output] = change.on
            self._tell(change)

    def _tell(self, change: rules.Change) -> None:
        if change.output == rules.HEARTBEAT and change.why == "renewed":
            return  # every second for days: it would push everything else out of the trace
        try:
            self._trace.write(f"{change.output} {int(change.on)} {change.why}")
        except OSError as error:
            self._pipe.say(f"trouble the trace cannot be written: {error}")

    def _remember(self) -> None:
        kept = {name: s for name, s in self._keeping.standings.items() if name != rules.HEARTBEAT}
        try:
            remember(self._job.state_path, self._boot, kept)
        except OSError as error:
            self._pipe.say(f"trouble the memory of switching times cannot be written: {error}")


def ignore_signals() -> None:
    """Ignore every signal that can be, as none of them says anything about the lines."""
    for name in IGNORED:
        signal.signal(getattr(signal, name), signal.SIG_IGN)


def main(argv: list[str]) -> NoReturn:
    """Run as ``python -m dryward_hardware.keeper FD JOB``. Exit status: 0 pipe ended, 3 could not start, 4 a line failed."""
    ignore_signals()
    slim_gpiozero()
    pipe = Pipe(int(argv[1]))
    status = 3
    keeper = None
    try:
        job = read_job(argv[2])
        os.makedirs(job.pipes_path, exist_ok=True)
        os.chdir(job.pipes_path)
        take_lock(job.lock_path, patience_s=LOCK_S)
        keeper = Keeper(job, pipe)
        status = 4
        keeper.run()
        status = 0
    except Exception as error:
        if keeper is not None:
            keeper.make_safe("fault")
        text = str(error) if isinstance(error, DeviceError) else f"keeper: {type(error).__name__}: {error}"
        pipe.say(f"failed {text}")
        with suppress(OSError):
            print(text, file=sys.stderr, flush=True)
    os._exit(status)  # not through gpiozero's clean-up, which would let go of the lines
