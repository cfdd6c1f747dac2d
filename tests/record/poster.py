"""A process that puts letters into an outbox as fast as it lets it: made to be killed.

Usage: python -m tests.record.poster FILE [COUNT]. Prints "ack N" only after letter N is durable. Odd letters are taken
out again as delivered, even ones never.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

from dryward.record.outbox import Draft, Outbox

LANE = "broker"


def main() -> None:
    count = int(sys.argv[2]) if len(sys.argv) > 2 else 10**9
    box = Outbox(Path(sys.argv[1]), [LANE])
    there = [int(letter.draft.body) for letter in box.take(LANE, most=10**6)]
    first = max(there, default=-1) + 1
    os.write(1, f"begun {first}\n".encode())
    for number in range(first, first + count):
        box.put([Draft(LANE, "notice", str(number))], tick=number)
        if box.flush():
            os.write(1, f"ack {number}\n".encode())  # one system call: a line is told whole or not at all
        box.done(LANE, [x.seq for x in box.take(LANE, most=10**6) if int(x.draft.body) % 2])
    box.close()


if __name__ == "__main__":
    main()
