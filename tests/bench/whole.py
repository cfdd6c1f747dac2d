"""The figures of a whole run: ``python -m tests.bench.whole``.

Prints how long a 78-hour, four-piece rehearsal takes at a 5 s tick, what one engine step costs, how quickly ``status``
answers and how much memory the daemon's main process holds. Every goal stands beside its figure.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from unittest import mock

from dryward.core import engine
from dryward.core.program import Ends
from dryward.doors.wire import ask
from dryward.service import fast, loop
from dryward.service.stand_in import rehearsal_settings
from dryward.settings import read_pieces, read_program
from tests.service.conftest import write_twin

CONFIG = Path(__file__).parents[2] / "config"
HOURS = 78.0
PERIOD_S = 5.0


def rehearsal(wrap: Callable[..., object] | None = None) -> tuple[float, float, int]:
    """Run 78 h; return wall s, processor s, ticks."""
    settings = rehearsal_settings(None)
    program = read_program(CONFIG / "hot-two-step.toml")
    last = replace(program.steps[-1], ends=Ends(cap_h=HOURS))
    program = replace(program, steps=(*program.steps[:-1], last), cap_h=HOURS)
    pieces = tuple(replace(p, target_loss_pct=80.0) for p in read_pieces(CONFIG / "batch-invented.toml"))
    began, used = time.perf_counter(), time.process_time()
    with mock.patch.object(loop, "step", wrap or engine.step):
        ended = fast.run_fast(settings, program, pieces, run_id="bench", period_s=PERIOD_S, record=None, who="bench")
    return time.perf_counter() - began, time.process_time() - used, ended.ticks


def step_us() -> tuple[float, float]:
    """Median and 99th percentile of one engine step in that run, in us."""
    times: list[int] = []
    clock = time.perf_counter_ns

    def timed(*args: object) -> object:
        began = clock()
        result = engine.step(*args)  # type: ignore[arg-type]
        times.append(clock() - began)
        return result

    rehearsal(timed)
    return statistics.median(times) / 1e3, statistics.quantiles(times, n=100)[-1] / 1e3


def daemon_figures() -> tuple[float, float, float]:
    """Start a real daemon; return the status command's wall ms, the socket's answer ms, the resident MB."""
    with tempfile.TemporaryDirectory() as folder:
        config = write_twin(Path(folder))
        command = [sys.executable, "-m", "dryward"]
        # sqlite-utils imports numpy where a test library has brought it (+19 MB); a runtime installation has none.
        bare = "import sys; sys.modules.update(numpy=None, pandas=None); from dryward.doors.cli import main; main()"
        served = subprocess.Popen(
            [sys.executable, "-c", bare, "serve", "--config", str(config)], stderr=subprocess.DEVNULL
        )
        socket = config.parent / "run" / "dryward.sock"
        try:
            deadline = time.monotonic() + 20.0
            while time.monotonic() < deadline:
                try:
                    ask(socket, {"verb": "status"})
                    break
                except Exception:
                    subprocess.run(["true"], check=True)
            subprocess.run(
                [*command, "load", "--config", str(config), str(config.parent / "batch.toml")],
                check=True,
                stdout=subprocess.DEVNULL,
            )
            subprocess.run(
                [*command, "start", "--config", str(config), str(config.parent / "program.toml")],
                check=True,
                stdout=subprocess.DEVNULL,
            )
            answers, commands = [], []
            for _ in range(20):
                began = time.perf_counter()
                ask(socket, {"verb": "status"})
                answers.append(time.perf_counter() - began)
                began = time.perf_counter()
                subprocess.run([*command, "status", "--config", str(config)], check=True, stdout=subprocess.DEVNULL)
                commands.append(time.perf_counter() - began)
            resident = next(
                int(line.split()[1]) / 1024
                for line in Path(f"/proc/{served.pid}/status").read_text().splitlines()
                if line.startswith("VmRSS")
            )
        finally:
            served.terminate()
            served.wait(20.0)
    return statistics.median(commands) * 1e3, statistics.median(answers) * 1e3, resident


def main() -> None:
    wall_s, cpu_s, ticks = rehearsal()
    median_us, high_us = step_us()
    command_ms, answer_ms, resident_mb = daemon_figures()
    real_s = HOURS * 3600.0
    print(f"{'figure':48} {'measured':>12}  goal")
    print(
        f"{'78 h, four pieces, 5 s ticks, whole engine':48} {wall_s:10.1f} s  <= 6 s ({cpu_s:.1f} s of processor, {ticks} ticks)"
    )
    print(f"{'  simulated time over real time':48} {real_s / wall_s:10.0f} x")
    print(f"{'one engine step, median':48} {median_us:9.1f} us  <= 40 us (99 %: {high_us:.0f} us)")
    print(
        f"{'dryward status, the whole command':48} {command_ms:9.0f} ms  <= 150 ms (the socket answers in {answer_ms:.1f} ms)"
    )
    print(f"{'main process, resident':48} {resident_mb:9.1f} MB  <= 60 MB")


if __name__ == "__main__":
    main()
