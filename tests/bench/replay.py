"""``python -m tests.bench.replay [HOURS]``: what it takes to prove every decision of a run again. Goal: 72 h at 1 s ticks in 15 s.

The run is that of the simulated dryer with four pieces on hooks, as the starter files have it, at the ticks of a real chamber.
"""

from __future__ import annotations

import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

from dryward.core.program import Ends, Program, Step
from dryward.record.queries import Record
from dryward.service.fast import run_fast
from dryward.service.replay import replay
from dryward.settings import read_pieces, read_settings
from tests.service.conftest import write_twin

MOST_S = 15.0
GOAL_H = 72.0


def main(hours: float) -> int:
    """Make the run, replay it, print; 0 when it is the same and quick enough."""
    steps = (
        Step(name="hot", air_c=75.0, ends=Ends(dwell_h=24.0)),
        Step(name="on", air_c=70.0, ends=Ends(dwell_h=240.0)),
    )
    with tempfile.TemporaryDirectory() as folder:
        chamber = write_twin(Path(folder))
        settings = read_settings(chamber)
        pieces = [
            replace(p, target_loss_pct=60.0) for p in read_pieces(chamber.with_name("batch.toml"), settings.chamber)
        ]
        path = Path(folder) / "record.db"
        program = Program(name="long", cap_h=hours, steps=steps)
        ended = run_fast(settings, program, pieces, run_id="r1", period_s=1.0, record=path, who="bench")
        print(f"run of {ended.ticks} ticks made in {ended.wall_s:.0f} s", flush=True)
        with Record(path) as record:
            began, used = time.perf_counter(), time.process_time()
            found = replay(record, "r1")
            took_s, used_s = time.perf_counter() - began, time.process_time() - used
    most_s = MOST_S * hours / GOAL_H
    print(found.text())
    print(
        f"replay: {took_s:.1f} s, {used_s:.1f} s of processor, {1e6 * used_s / found.ticks:.0f} us a tick; goal {most_s:.1f} s"
    )
    return 0 if used_s <= most_s and not found.different else 1


if __name__ == "__main__":
    sys.exit(main(float(sys.argv[1]) if len(sys.argv) > 1 else GOAL_H))
