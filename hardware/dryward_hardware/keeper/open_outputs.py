"""Drive every output line to its safe state, by itself, when everything else is gone.

``python -m dryward_hardware.keeper.open_outputs JOB``: for the service manager's ExecStopPost. It needs only the file
that the keeper was started with. A keeper that still lives gets a moment to do its own work; one that does not end
is killed, since it holds the lines.
"""

from __future__ import annotations

import os
import sys

from dryward_hardware.keeper.job import Job, read_job
from dryward_hardware.keeper.lock import kill_holder, take_lock
from dryward_hardware.keeper.pins import Pins, slim_gpiozero
from dryward_hardware.keeper.process import ignore_signals
from dryward_hardware.keeper.trace import Trace
from dryward_hardware.lines import DeviceError

TYPE_CHECKING = False
if TYPE_CHECKING:  # typing alone would cost this process a megabyte
    from typing import NoReturn

KEEPER_S = 2.0  # a keeper whose main process has died is done within one


def main(argv: list[str]) -> NoReturn:
    """Open the outputs of the job file ``argv[1]``. Exit status 0: all safe, or there never were any; 1: look at once."""
    ignore_signals()
    try:
        job = read_job(argv[1])
    except FileNotFoundError:
        _end(f"no output lines were ever claimed ({argv[1]} does not exist)", 0)
    except (OSError, ValueError) as error:
        _end(f"the output lines are not known, CHECK THAT THE HEATER IS OFF: {error}", 1)
    try:
        _open(job)
    except Exception as error:
        _end(f"not every output could be made safe, CHECK THAT THE HEATER IS OFF: {error}", 1)
    _end(f"every output is safe: {', '.join(line.name for line in job.lines)}", 0)


def _open(job: Job) -> None:
    slim_gpiozero()
    os.makedirs(job.pipes_path, exist_ok=True)
    os.chdir(job.pipes_path)
    try:
        take_lock(job.lock_path, patience_s=KEEPER_S)
    except DeviceError:
        kill_holder(job.lock_path)
        take_lock(job.lock_path, patience_s=KEEPER_S)
    trace = Trace(job.trace_path)
    Pins(job.lines, factory=job.factory, record=Trace(job.levels_path).offer)
    for line in job.lines:
        trace.offer(f"{line.name} {int(line.safe_on)} opened")


def _end(text: str, status: int) -> NoReturn:
    print(f"dryward: {text}", file=sys.stderr, flush=True)
    os._exit(status)


if __name__ == "__main__":
    main(sys.argv)
