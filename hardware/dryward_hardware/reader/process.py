"""The reader program: forks a worker for each device, passes on what they read, ends and replaces those that hang.

It reads no device itself and does little else, so that it neither hangs nor grows. It ends when its pipe ends, and takes
every worker and whatever a worker has started with it. A worker that cannot be killed, because the kernel does not
return from a read, is left to the kernel and replaced all the same.
"""

from __future__ import annotations

import gc
import os
import select
import signal
import socket
import time
from contextlib import suppress

from dryward_hardware.open import prepare_drivers
from dryward_hardware.ports import DeviceSpec
from dryward_hardware.reader.messages import MESSAGE_BYTES, channel_pair, pack, unpack
from dryward_hardware.reader.worker import work

TYPE_CHECKING = False
if TYPE_CHECKING:
    from typing import Any, NoReturn

OPEN_S = 20.0  # a slow Pi imports and sets up the slowest device in less
POLITE_S = 0.5  # between the asking and the killing
ALIVE_S = 1.0
PAUSES_S = (0.5, 1.0, 2.0, 4.0, 8.0)  # before a worker is started again; the last stays
WELL_S = 60.0  # a worker that lived so long starts again at the first pause
IGNORED = ("SIGINT", "SIGTERM", "SIGHUP", "SIGQUIT", "SIGUSR1", "SIGUSR2", "SIGALRM", "SIGPIPE", "SIGTSTP")


class Post:
    """A place for one worker: its devices, its process if it has one, and when it is to speak or to start."""

    pipe: socket.socket | None = None
    pid = 0
    why = ""
    started_s = speaks_by_s = kill_s = 0.0
    starts_s = 0.0
    limit_s = OPEN_S
    misfortunes = 0

    def __init__(self, specs: list[DeviceSpec]) -> None:
        self.specs = specs

    def start(self, job: dict[str, Any]) -> None:
        """Fork the worker."""
        self.pipe, theirs = channel_pair()
        parent = os.getpid()
        self.pid = os.fork()
        if self.pid == 0:
            _keep_only(theirs.fileno())
            work(theirs, self.specs, pin_factory=job["pin_factory"], mock_levels=job["mock_levels"], parent=parent)
        theirs.close()
        with suppress(OSError):  # whoever of the two is first
            os.setpgid(self.pid, self.pid)
        self.started_s = time.monotonic()
        self.limit_s, self.kill_s, self.why = OPEN_S, 0.0, ""
        self.speaks_by_s = self.started_s + OPEN_S

    def hear(self, message: bytes) -> bool:
        """Take a message of the worker and say whether it is to be passed on."""
        word, *rest = unpack(message)
        if word == "open":
            self.limit_s = float(str(rest[0]))
        elif word == "failed":
            self.why = str(rest[0])
        self.speaks_by_s = time.monotonic() + self.limit_s
        return word == "read"

    def end(self, now_s: float) -> list[object]:
        """Bury a worker whose pipe has ended; return the message about it."""
        assert self.pipe is not None
        self.pipe.close()
        self.pipe = None
        with suppress(OSError):
            os.killpg(self.pid, signal.SIGKILL)
        if now_s - self.started_s >= WELL_S:
            self.misfortunes = 0
        self.starts_s = now_s + PAUSES_S[min(self.misfortunes, len(PAUSES_S) - 1)]
        self.misfortunes += 1
        return ["ended", [spec.name for spec in self.specs], self.why or "died"]

    def overdue(self, now_s: float) -> bool:
        """Ask a worker that hangs to end, kill it if it does not; return True when it is to be given up."""
        if now_s < self.speaks_by_s:
            return False
        if not self.kill_s:
            self.why = f"no answer within {self.limit_s:g} s"
            self.kill_s = now_s + POLITE_S
            self._signal(signal.SIGTERM)
        elif now_s >= self.kill_s:
            with suppress(OSError):
                os.killpg(self.pid, signal.SIGKILL)
            return now_s >= self.kill_s + POLITE_S
        return False

    def dismiss(self) -> None:
        """Ask the worker to end, where there is one."""
        if self.pipe is not None:
            self._signal(signal.SIGTERM)

    def _signal(self, number: int) -> None:
        with suppress(OSError):
            os.kill(self.pid, number)


class Reader:
    """All posts, and the pipe to the main process."""

    def __init__(self, main: socket.socket, job: dict[str, Any]) -> None:
        self._main = main
        self.job = job
        self._posts = _posts(job)
        self._lost = 0
        self._alive_s = 0.0

    def run(self) -> None:
        """Work until the main process's end of the pipe is closed."""
        while True:
            now_s = time.monotonic()
            for post in self._posts:
                if post.pipe is None and now_s >= post.starts_s:
                    post.start(self.job)
            pipes = {post.pipe: post for post in self._posts if post.pipe is not None}
            ready, _, _ = select.select([self._main, *pipes], [], [], self._patience_s(now_s))
            if self._main in ready:
                return  # it never speaks after the job: it has closed
            for pipe in ready:
                self._pass_on(pipes[pipe])
            now_s = time.monotonic()
            for post in self._posts:
                if post.pipe is not None and post.overdue(now_s):
                    self._say(post.end(now_s))
            self._reap()
            if now_s >= self._alive_s:
                self._alive_s = now_s + ALIVE_S
                self._say(["alive", self._lost])

    def close(self) -> None:
        """End every worker, politely first."""
        for post in self._posts:
            post.dismiss()
        pipes = [post.pipe for post in self._posts if post.pipe is not None]
        give_up_s = time.monotonic() + POLITE_S
        while pipes and (left_s := give_up_s - time.monotonic()) > 0:
            ready, _, _ = select.select(pipes, [], [], left_s)
            pipes = [pipe for pipe in pipes if pipe not in ready or pipe.recv(MESSAGE_BYTES)]
        for post in self._posts:
            if post.pipe is not None:
                with suppress(OSError):
                    os.killpg(post.pid, signal.SIGKILL)
        while self._reap() and time.monotonic() < give_up_s + POLITE_S:
            time.sleep(0.005)

    def _patience_s(self, now_s: float) -> float:
        moments = [self._alive_s]
        for post in self._posts:
            moments.append(post.starts_s if post.pipe is None else post.kill_s or post.speaks_by_s)
        return min(ALIVE_S, max(0.01, min(moments) - now_s))

    def _pass_on(self, post: Post) -> None:
        assert post.pipe is not None
        message = b""
        with suppress(OSError):
            message = post.pipe.recv(MESSAGE_BYTES)
        if not message:
            self._say(post.end(time.monotonic()))
        elif post.hear(message):
            self._send(message)

    def _say(self, words: list[object]) -> None:
        self._send(pack(*words))

    def _send(self, message: bytes) -> None:
        try:
            self._main.send(message)
        except OSError:  # full: the main process stands still, and old readings are no use to it; broken: select tells
            self._lost += 1

    def _reap(self) -> bool:
        """Take the ended workers off the kernel's list; say whether there are any others."""
        with suppress(ChildProcessError):
            while os.waitpid(-1, os.WNOHANG)[0]:
                pass
            return True
        return False


def _posts(job: dict[str, Any]) -> list[Post]:
    """One post for each device; the digital inputs, which never block, share one."""
    specs = [DeviceSpec(name=name, kind=kind, options=options) for name, kind, options in job["devices"]]
    inputs = [spec for spec in specs if spec.kind == "input"]
    return [Post([spec]) for spec in specs if spec.kind != "input"] + ([Post(inputs)] if inputs else [])


def _keep_only(fd: int) -> None:
    """Close every inherited file but the standard ones and ``fd``."""
    os.closerange(3, fd)
    os.closerange(fd + 1, 1024)


def main(argv: list[str]) -> NoReturn:
    """Run as ``python -m dryward_hardware.reader FD``; the job is the first message."""
    for name in IGNORED:
        signal.signal(getattr(signal, name), signal.SIG_IGN)
    pipe = socket.socket(fileno=int(argv[1]))
    message = pipe.recv(MESSAGE_BYTES)
    if message:
        reader = Reader(pipe, unpack(message)[1])  # type: ignore[arg-type]
        pipe.setblocking(False)
        prepare_drivers(kind for _, kind, _ in reader.job["devices"])
        gc.collect()
        gc.freeze()  # what the workers share with this process, they shall go on sharing
        reader.run()
        reader.close()
    os._exit(0)
