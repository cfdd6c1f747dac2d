"""The real service whose loop comes to a stop when a file appears, each in its own way.

``python -m tests.faults_live.blocker --config FILE`` is ``dryward serve``, but a turn of the loop looks for the file
``block`` in the chamber's folder and does what stands in it:

    wait    waits for ever on a lock; the other threads live on
    spin    runs round in circles, so that the other threads live but share the processor with it
    hold    waits inside C code without ever giving the interpreter back: no thread lives
"""

from __future__ import annotations

import ctypes
import sys
import threading
from pathlib import Path

from dryward.core.commands import Commands
from dryward.doors.cli import main
from dryward.service.loop import Loop


def block(how: str) -> None:
    match how:
        case "wait":
            threading.Event().wait()
        case "spin":
            while True:
                pass
        case "hold":
            ctypes.PyDLL(None).pause()  # PyDLL keeps the interpreter's lock


def install(folder: Path) -> None:
    turn = Loop.turn

    def blocking_turn(self: Loop, tick: int) -> Commands:
        if (folder / "block").exists():
            block((folder / "block").read_text())
        return turn(self, tick)

    Loop.turn = blocking_turn  # type: ignore[method-assign]


if __name__ == "__main__":
    install(Path(sys.argv[sys.argv.index("--config") + 1]).parent)
    main(["serve", *sys.argv[1:]], prog_name="dryward")
