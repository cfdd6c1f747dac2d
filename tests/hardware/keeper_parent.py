"""A main process in miniature, for the kill tests: heats through a keeper until something happens to it.

``python keeper_parent.py DIRECTORY HABIT``; prints ``heating CHILD`` once the heater is on. Habits: ``loop`` renews the lease
for ever; ``block`` stops renewing and waits for ever, holding the interpreter as a dead loop would; ``leak`` leaves the
pipe open in a child of its own and then loops, so that its death does not end the pipe.
"""

from __future__ import annotations

import os
import signal
import sys
from pathlib import Path
from threading import Event

from dryward_hardware.keeper.client import KeeperClient
from dryward_hardware.ports import LineSpec

LINES = (
    LineSpec(name="heater", gpio=17),
    LineSpec(name="fan", gpio=18, safe_on=True),
    LineSpec(name="contactor", gpio=27, active_high=False),
)


def main(directory: Path, habit: str) -> None:
    keeper = KeeperClient(LINES, factory="mock", trace_path=directory / "trace", state_path=directory / "state")
    child = 0
    if habit == "leak" and not (child := os.fork()):
        os.setsid()
        signal.pause()
    heat = frozenset({"heater", "fan", "contactor"})
    pace = Event()
    while "heater" not in keeper.actual():
        keeper.want(heat)
        pace.wait(0.05)
    print("heating", child, flush=True)
    while habit != "block":
        keeper.want(heat)
        pace.wait(0.2)
    while True:
        pass


if __name__ == "__main__":
    main(Path(sys.argv[1]), sys.argv[2])
