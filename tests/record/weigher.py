"""A process that weighs as fast as the record lets it and prints what was acknowledged: made to be killed.

Usage: python -m tests.record.weigher FILE [COUNT]. Prints "begun TICK", then "ack TICK" only after ``flush`` said that it is durable.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

from dryward.core.commands import Commands
from dryward.core.inputs import Inputs, Reading
from dryward.record.recovery import recover
from dryward.record.writer import RecordWriter
from tests.record.scene import UTC_S, ToyState, session, stamp, weigh


def main() -> None:
    path = Path(sys.argv[1])
    count = int(sys.argv[2]) if len(sys.argv) > 2 else 10**9
    found = recover(path, at_utc_s=UTC_S)
    book = RecordWriter(path, session(first_tick=found.next_tick), commit_s=0.02)
    say(f"begun {found.next_tick}")
    for tick in range(found.next_tick, found.next_tick + 2 * count, 2):
        told, decided = weigh(tick, weight_g=1000.0 + tick)
        readings = tuple(Reading(name, 50.0 + tick / 7.0, tick - 0.1) for name in ("air", "top", "damp"))
        book.put(tick, stamp(tick), Inputs(readings=readings, requests=told.requests), decided, ToyState(tick))
        book.put(
            tick + 1,
            stamp(tick + 1),
            Inputs(readings=readings),
            Commands(on=frozenset({"fan"} if tick % 4 else ())),
            ToyState(tick + 1),
        )
        if book.flush():
            say(f"ack {tick}")
    say(f"closed {book.close()}")


def say(line: str) -> None:
    os.write(1, f"{line}\n".encode())  # one system call: a line is told whole or not at all


if __name__ == "__main__":
    main()
