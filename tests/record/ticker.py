"""A process that ticks on time while its disk fails, for tests.bench.diskfaults. Usage: python -m tests.record.ticker FILE TICKS.

Prints one JSON line: the longest delay of a tick, whether the record was ever failing and why, and whether all is durable at the end.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from time import monotonic, sleep

from dryward.core.commands import Commands
from dryward.core.inputs import Inputs, Reading
from dryward.record.writer import RecordWriter
from tests.record.scene import ToyState, session, stamp, weigh

PERIOD_S = 0.01


def main() -> None:
    path, ticks = Path(sys.argv[1]), int(sys.argv[2])
    book = RecordWriter(path, session(), commit_s=0.03)
    began, late_s, why = monotonic(), 0.0, ""
    for tick in range(ticks):
        sleep(max(0.0, began + tick * PERIOD_S - monotonic()))
        before = monotonic()
        readings = tuple(Reading(name, 50.0 + tick / 7.0, tick - 0.1) for name in ("air", "top", "damp"))
        told, decided = weigh(tick) if tick % 5 == 0 else (Inputs(), Commands())
        book.put(tick, stamp(tick), Inputs(readings=readings, requests=told.requests), decided, ToyState(tick))
        late_s = max(late_s, monotonic() - before)
        why = why or book.health().why
    durable = any(book.flush(timeout_s=1.0) for _ in range(20))
    health = book.health()
    aside = str(health.set_aside) if health.set_aside else ""
    print(
        json.dumps(
            {
                "put_s": late_s,
                "why": why,
                "durable": durable,
                "dropped": health.dropped,
                "refused": health.refused,
                "set_aside": aside,
                "closed": book.close(),
            }
        )
    )


if __name__ == "__main__":
    main()
