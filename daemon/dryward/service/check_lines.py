"""Switches the outputs, on request only: each one on and off for a second, and the time from a killed daemon to "off".

Both claim the lines through a keeper, as the daemon does, and refuse while a daemon has them.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from dryward.core.chamber import Output
from dryward.service.check import Finding
from dryward.service.check_child import HELPERS, unhurried
from dryward.service.hands import start_keeper, trace_path
from dryward.service.lock import ChamberLock, Taken
from dryward.settings import Settings
from dryward_hardware.keeper.client import KeeperClient
from dryward_hardware.ports import DeviceError

CLICK_S = 1.0
ANSWER_S = 3.0
DEAD_S, HUNG_S = 1.0, 5.0  # fault contract F1 and F2
RIGHTS = "Stop the daemon first (sudo systemctl stop dryward), then run this as its user: sudo -u dryward /opt/dryward/bin/dryward check ..."


def click(settings: Settings, seen: Callable[[str], bool] | None) -> Iterator[Finding]:
    """Switch each output on for a second and off again. ``seen`` asks a person about one output; None: nobody is asked."""
    outputs = _switchable(settings)
    if not outputs:
        yield _no_lines("click")
        return
    try:
        with _claimed(settings) as keeper:
            for output in outputs:
                yield _click(keeper, output, seen)
    except (Taken, DeviceError, OSError) as error:
        yield Finding(name="click", verdict="fail", text=f"the outputs cannot be had: {error}", cure=RIGHTS)


def _click(keeper: KeeperClient, output: Output, seen: Callable[[str], bool] | None) -> Finding:
    name = output.name
    if name == "cooler":
        text = "cooler: not clicked, a compressor must not run for a second only"
        return Finding(name="click", verdict="warn", text=text, cure="Start a cold step and listen whether it runs.")
    on = frozenset({name}) | (HELPERS if name == "heater" else frozenset())
    went_on = _hold(keeper, on, lambda: name in keeper.actual(), ANSWER_S)
    _hold(keeper, on, lambda: False, CLICK_S)
    went_off = _hold(keeper, frozenset(), lambda: name not in keeper.actual(), ANSWER_S)
    if not (went_on and went_off):
        state = "did not go on" if not went_on else "did not go off again"
        why = keeper.trouble() or "the line does not follow"
        return Finding(
            name="click",
            verdict="fail",
            text=f"{name} (gpio {output.gpio}) {state}: {why}",
            cure="Look at the wiring and at the gpio number in the chamber file.",
        )
    if seen is not None and not seen(name):
        text = f"{name} (gpio {output.gpio}): the line switched, you saw nothing switch"
        cure = f"Is the board on gpio {output.gpio}, has it power, is active_high = {str(output.active_high).lower()} right?"
        return Finding(name="click", verdict="fail", text=text, cure=cure)
    told = "switched on and off" if seen is not None else "the line switched on and off; nobody was asked what switched"
    return Finding(name="click", verdict="pass", text=f"{name} (gpio {output.gpio}): {told}")


def _hold(keeper: KeeperClient, on: frozenset[str], done: Callable[[], bool], longest_s: float) -> bool:
    """Renew the lease until ``done`` or for so long; return whether it was done."""
    end_s = time.monotonic() + longest_s
    while not (reached := done()) and time.monotonic() < end_s:
        keeper.want(on)
        time.sleep(0.1)
    return reached


def kill_test(settings: Settings) -> Iterator[Finding]:
    """Let a child daemon hold an output on, then kill it, then hang another; measure by the keeper's trace."""
    output = next(
        (
            o
            for o in sorted(_switchable(settings), key=lambda o: o.name != "heater")
            if not o.safe_on and o.name != "cooler"
        ),
        None,
    )
    if output is None:
        yield _no_lines("kill-test")
        return
    for number, what, limit_s in ((signal.SIGKILL, "killed", DEAD_S), (signal.SIGSTOP, "hung", HUNG_S)):
        try:
            with closing(ChamberLock(_lines(settings))):
                took_s = _strike(settings, output.name, number, within_s=2.0 * limit_s)
        except (Taken, DeviceError, OSError) as error:
            yield Finding(name="kill-test", verdict="fail", text=f"could not be done: {error}", cure=RIGHTS)
            return
        text = f"main process {what}: {output.name} was off after {took_s:.3f} s; limit {limit_s:g} s"
        cure = "" if took_s <= limit_s else "Do not heat with this machine. Keep the keeper's trace and report it."
        yield Finding(name="kill-test", verdict="pass" if not cure else "fail", text=text, cure=cure)


def _strike(settings: Settings, output: str, number: signal.Signals, *, within_s: float) -> float:
    """Return how long after the signal the output was off, s. Raises DeviceError when it never was on."""
    command = [sys.executable, "-m", "dryward.service.check_child", str(settings.path), output]
    environ = {**os.environ, "PYTHONPATH": os.pathsep.join(place for place in sys.path if place)}
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=environ) as child:
        try:
            assert child.stdout is not None
            if child.stdout.readline().strip() != "on":
                raise DeviceError(output, "the child daemon could not switch it on")
            moment_s = time.monotonic()
            child.send_signal(number)
            return _off_s(settings, output, moment_s, within_s) - moment_s
        finally:
            child.kill()


def _off_s(settings: Settings, output: str, moment_s: float, within_s: float) -> float:
    """Return when the trace says that the output went off after ``moment_s``; infinity when it does not."""
    while time.monotonic() < moment_s + within_s:
        for line in reversed(trace_path(settings).read_text().splitlines()):
            at_ns, name, on, _ = line.split(" ")
            if name == output and on == "0" and int(at_ns) / 1e9 >= moment_s:
                return int(at_ns) / 1e9
        time.sleep(0.02)
    return float("inf")


@contextmanager
def _claimed(settings: Settings) -> Iterator[KeeperClient]:
    """The lines, claimed through a keeper. Raises Taken, DeviceError, OSError."""
    with closing(ChamberLock(_lines(settings))):
        keeper = start_keeper(unhurried(settings))
        assert keeper is not None
        with closing(keeper):
            yield keeper


def _lines(settings: Settings) -> Path:
    return Path(settings.service.socket).with_name("lines")


def _switchable(settings: Settings) -> list[Output]:
    """Return the wired outputs, the heater last: by then it is known whether the others switch."""
    wired = [o for o in settings.chamber.outputs if o.gpio is not None and o.name != "heartbeat"]
    return sorted(wired, key=lambda o: o.name == "heater")


def _no_lines(name: str) -> Finding:
    return Finding(
        name=name, verdict="warn", text="no output of this chamber has a line (gpio): there is nothing to switch"
    )
