"""A chamber of its own folder with the real service in it, seen from outside as a service manager sees it.

The stand listens on NOTIFY_SOCKET, keeps each word with the moment it came, reads the keeper's trace, talks to the
control socket and ends processes by the id it started. The plant is the simulated dryer; the outputs have gpio numbers
and mock pins, so that a keeper process switches them and the dryer follows what the keeper has really switched.
"""

from __future__ import annotations

import json
import os
import select
import signal
import socket
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Callable, Mapping, Sequence
from contextlib import closing, suppress
from dataclasses import dataclass
from pathlib import Path
from time import monotonic
from typing import Any, NamedTuple

from dryward.doors.wire import Unreachable, ask
from dryward.settings.starter import starter_files

ROOT = Path(__file__).parents[2]
WATCHDOG_S = 8.0  # as in systemd/dryward.service
GPIO = {"heater": 17, "fan": 27, "vent": 23}
PROGRAM = {
    "name": "long",
    "cap_h": 100.0,
    "steps": [{"name": "hot", "air_c": 80.0, "band_k": 3.0, "ends": {"dwell_h": 50.0, "cap_h": 60.0}}],
}
PIECES = [{"name": "loin", "green_g": 900.0, "target_loss_pct": 35.0, "scale": "hook-1", "thickness_mm": 70.0}]


class Entry(NamedTuple):
    """One transition as the keeper's trace tells it."""

    at_s: float
    output: str
    on: bool
    why: str


class Word(NamedTuple):
    """One word to the service manager, when it came (monotonic s), and how long speaker and listener had waited for a processor by then, s."""

    at_s: float
    text: str
    waited_s: float = 0.0


def until(condition: Callable[[], bool], *, within_s: float, what: str, pace_s: float = 0.01) -> float:
    """Wait until the condition holds, fail when it does not in time; return when it did (monotonic s)."""
    deadline_s = monotonic() + within_s
    pause = threading.Event()
    while not condition():
        if monotonic() > deadline_s:
            raise AssertionError(f"not within {within_s:g} s: {what}")
        pause.wait(pace_s)
    return monotonic()


def write_chamber(
    folder: Path, *, extra: str = "", change: Mapping[str, str] | None = None, gpio: Mapping[str, int] = GPIO
) -> Path:
    """Write the simulated dryer with lines for its outputs into ``folder``; return the chamber file.

    ``change``: text to be put in the place of other text of the starter file; ``extra``: text at its end.
    """
    folder.mkdir(parents=True, exist_ok=True)
    text = starter_files("twin")["chamber.toml"]
    places = {
        "~/.local/share/dryward/twin-dryer.db": "record.db",
        "~/.local/share/dryward/twin-dryer.sock": "run/dryward.sock",
    }
    for old, new in {**places, **(change or {})}.items():
        assert old in text, old
        text = text.replace(old, new)
    for name, number in gpio.items():
        text = text.replace(f"[outputs.{name}]\n", f"[outputs.{name}]\ngpio = {number}\n")
    path = folder / "chamber.toml"
    path.write_text(text + extra)
    return path


@dataclass
class Service:
    """One start of the service."""

    process: subprocess.Popen[bytes]
    began_s: float
    keeper_pid: int = 0


class Stand:
    """A folder, and the service that runs in it now. Use as a context manager: nothing is left running."""

    def __init__(
        self,
        folder: Path,
        *,
        environ: Mapping[str, str] | None = None,
        program: Sequence[str] = ("-m", "dryward", "serve"),
        args: Sequence[str] = (),
        watchdog_s: float = WATCHDOG_S,
    ) -> None:
        self.folder = folder
        self.config = folder / "chamber.toml"
        self.socket = folder / "run" / "dryward.sock"
        self.words: list[Word] = []
        self._environ = dict(environ or {})
        self._program, self._args = tuple(program), ("--config", str(self.config), *args)
        self._watchdog_s = watchdog_s
        self._manager = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self._notify = folder / "notify"
        self.services: list[Service] = []

    def __enter__(self) -> Stand:
        self._notify.unlink(missing_ok=True)
        self._manager.bind(str(self._notify))
        self._end_listening, theirs = os.pipe()
        self._listener = threading.Thread(target=self._listen, args=(theirs,))
        self._listener.start()
        return self

    def __exit__(self, *_: object) -> None:
        for service in self.services:
            with suppress(ProcessLookupError):
                os.kill(service.process.pid, signal.SIGCONT)
            service.process.kill()
            service.process.wait()
        for service in self.services:
            if service.keeper_pid and _is_keeper(service.keeper_pid):
                os.kill(service.keeper_pid, signal.SIGKILL)
        os.close(self._end_listening)
        self._listener.join()
        self._manager.close()

    def _listen(self, end: int) -> None:
        with os.fdopen(end):
            while True:
                ready, _, _ = select.select([self._manager.fileno(), end], [], [])
                if end in ready:
                    return
                at_s, text = monotonic(), self._manager.recv(4096).decode()
                both = [self.services[-1].process.pid, "thread-self"] if self.services else []
                self.words.append(Word(at_s, text, sum(waited_s(one) for one in both)))

    # -- processes

    def start(self, program: Sequence[str] | None = None) -> Service:
        """Start the service as a service manager does, or ``program`` in its place; returns at once."""
        environ = {
            **os.environ,
            "PYTHONPATH": os.pathsep.join(str(ROOT / part) for part in ("daemon", "hardware", ".")),
            "NOTIFY_SOCKET": str(self._notify),
            "WATCHDOG_USEC": str(int(self._watchdog_s * 1e6)),
            **self._environ,
        }
        with (self.folder / "journal").open("ab") as journal:
            process = subprocess.Popen(
                [sys.executable, *(program or self._program), *self._args],
                cwd=ROOT,
                env=environ,
                stdin=subprocess.DEVNULL,
                stdout=journal,
                stderr=journal,
            )
        service = Service(process, monotonic())
        self.services.append(service)
        return service

    def forget_starts(self) -> None:
        """Forget how often it was started, as if ten minutes had passed: the crash-loop rule (F24) has its own tests."""
        for forgotten in (self.folder / "run").glob("*.starts.json"):
            forgotten.unlink()

    def start_ready(self, *, program: Sequence[str] | None = None, within_s: float = 20.0) -> Service:
        """Start it and wait for its word that it is ready; return it."""
        service = self.start(program)
        until(lambda: self.is_ready(service) or service.process.poll() is not None, within_s=within_s, what="ready")
        assert service.process.poll() is None, self.journal()
        service.keeper_pid = self.keeper_pid()
        return service

    def is_ready(self, service: Service) -> bool:
        return any(w.text.startswith("READY=1") and w.at_s >= service.began_s for w in self.words)

    def ready_s(self, service: Service) -> float:
        """Return when this start said that it was ready (monotonic s)."""
        return next(w.at_s for w in self.words if w.text.startswith("READY=1") and w.at_s >= service.began_s)

    def pings(self, service: Service) -> list[float]:
        """Return the moments of this start's watchdog words: one a whole turn of the loop."""
        return [w.at_s for w in self.turns(service)]

    def turns(self, service: Service) -> list[Word]:
        """Return this start's watchdog words."""
        later = [s.began_s for s in self.services if s.began_s > service.began_s]
        end_s = min(later, default=float("inf"))
        return [w for w in self.words if w.text == "WATCHDOG=1" and service.began_s <= w.at_s < end_s]

    def keeper_pid(self) -> int:
        locks = list((self.folder / "run").glob("*.outputs.json.lock"))
        return int(locks[0].read_text()) if locks else 0

    def journal(self) -> str:
        return (self.folder / "journal").read_text(errors="replace")

    def trip(self, service: Service) -> None:
        """Kill three keepers, which is a trip (F23)."""
        for _ in range(3):
            if "keeper-dying" not in self.trips():
                pid = self.keeper_pid()
                os.kill(pid, signal.SIGKILL)
                until(lambda pid=pid: self.keeper_pid() != pid, within_s=10.0, what="a new keeper")  # type: ignore[misc]
        until(lambda: "keeper-dying" in self.trips(), within_s=10.0, what="the trip")
        service.keeper_pid = self.keeper_pid()

    # -- what can be seen

    def ask(self, verb: str, *, who: str = "", **more: Any) -> dict[str, Any]:
        """Ask for something; return the answer."""
        return self.say({"ask": {"verb": verb, **more}} | ({"who": who} if who else {}))

    def say(self, message: dict[str, Any]) -> dict[str, Any]:
        """Send one message over the control socket; return the answer."""
        return ask(self.socket, message)

    def wanted(self, verb: str, *, who: str = "", **more: Any) -> None:
        """Ask for something that must be accepted."""
        answer = self.ask(verb, who=who, **more)
        assert answer["accepted"], answer

    def status(self) -> dict[str, Any]:
        found: dict[str, Any] = ask(self.socket, {"verb": "status"})["status"]
        return found

    def answers(self) -> bool:
        try:
            self.status()
        except Unreachable:
            return False
        return True

    def trips(self) -> set[str]:
        return {a["key"] for a in self.status()["alarms"] if a["trip"]}

    def begin(self) -> None:
        """Load the batch, start the long program, wait until the heater is on."""
        self.wanted("load", pieces=PIECES)
        self.wanted("start", program=PROGRAM, run_id="")
        self.await_heat()

    def await_heat(self, *, within_s: float = 15.0) -> None:
        until(lambda: self.is_on("heater"), within_s=within_s, what=f"heater on; {self.journal()[-2000:]}")

    def trace(self) -> list[Entry]:
        """Return every transition that the keepers of this folder have written down."""
        path = next(iter((self.folder / "run").glob("*.outputs.trace")), None)
        rows = [] if path is None else [line.split(" ") for line in path.read_text().splitlines()]
        return [Entry(int(ns) / 1e9, output, on == "1", why) for ns, output, on, why in rows]

    def is_on(self, output: str) -> bool:
        return next((e.on for e in reversed(self.trace()) if e.output == output), False)

    def off_after(self, output: str, moment_s: float) -> float | None:
        """Return when the output was off from ``moment_s`` on (``moment_s`` if it was off already), None while it is on."""
        entries = [e for e in self.trace() if e.output == output]
        if not entries or entries[-1].on:
            return None
        went = max((e.at_s for e in entries if not e.on and e.why != "start"), default=moment_s)
        return max(went, moment_s)

    def start_states(self) -> list[dict[str, Any]]:
        """Return, for each session on record, the state it went on with and its first tick."""
        with closing(sqlite3.connect(f"file:{self.folder / 'record.db'}?mode=ro", uri=True)) as record:
            rows = record.execute("SELECT first_tick, start_state FROM session ORDER BY session_id").fetchall()
        return [{"first_tick": tick, "state": json.loads(state) if state else None} for tick, state in rows]


def _is_keeper(pid: int) -> bool:
    try:
        return b"dryward_hardware.keeper" in Path(f"/proc/{pid}/cmdline").read_bytes()
    except (FileNotFoundError, ProcessLookupError):
        return False


def waited_s(pid: int | str) -> float:
    """Return how long the first thread of a process (here the loop's) has waited for a processor that others had, s.

    A busy machine is not this program's fault. proc(5), schedstat.
    """
    try:
        return int(Path(f"/proc/{pid}/schedstat").read_text().split()[1]) / 1e9
    except OSError:
        return 0.0


def gone(pid: int) -> bool:
    """Tell whether a process has ended (a zombie has)."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0] == "Z"
    except (FileNotFoundError, ProcessLookupError):
        return True
