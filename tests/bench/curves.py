"""How often the warnings from a drying curve are false, and how often they come when they should: ``python -m tests.bench.curves``.

Healthy: pieces of simulated batches, looked at from weighing to weighing. Troubled: the same pieces, whose pace falls to a quarter
(a crust) or to nothing (stalled) when they have lost 15 % of their green weight; do they get their warning before 40 % or the end?
"""

from __future__ import annotations

import sys
from collections import Counter
from itertools import pairwise

from dryward.science.curve_watch import LAST_GONE, trouble
from dryward.science.falling import WATER
from tests.bench.batches import Batch, Log
from tests.bench.drying_twin import twin_batches

FROM_LOSS = 0.15
LOOKS = 12


def slowed(log: Log, pace: float) -> Log:
    """The same piece, from 15 % loss on drying at ``pace`` times its own, weighed as often; cut where it is nearly dry."""
    green_g, start_s = log[0][1], next((t for t, g in log if g <= (1.0 - FROM_LOSS) * log[0][1]), None)
    if start_s is None:
        return []
    return [row for row in ((t, _at(log, t if t <= start_s else start_s + pace * (t - start_s))) for t, _ in log) if row[1] > green_g * (1.0 - LAST_GONE * WATER)]  # fmt: skip


def _at(log: Log, t_s: float) -> float:
    for (before_s, before), (after_s, after) in pairwise(log):
        if before_s <= t_s <= after_s:
            return before + (after - before) * (t_s - before_s) / (after_s - before_s)
    return log[-1][1]


def looks(batch: Batch, log: Log) -> list[str]:
    """What is said of a piece from weighing to weighing."""
    green_g, every = log[0][1], max(1, len(log) // LOOKS)
    said = [trouble(green_g, log[:k], batch.had(log[:k])) for k in [*range(4, len(log), every), len(log)]]
    return [one or "nothing" for one in said]


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 60
    healthy: Counter[str] = Counter()
    troubled: dict[str, Counter[bool]] = {"crust": Counter(), "stalled": Counter()}
    for batch in twin_batches(count):
        for log in batch.logs.values():
            healthy.update(looks(batch, log))
            for kind, pace in (("crust", 0.25), ("stalled", 0.0)):
                slow = slowed(log, pace)
                if len(slow) > 8 and slow[-1][1] <= (1.0 - FROM_LOSS) * slow[0][1] * 1.001:
                    troubled[kind][any(one != "nothing" for one in looks(batch, slow))] += 1
    print(f"healthy pieces of {count} batches, looked at {sum(healthy.values())} times: {dict(healthy)}")
    for kind, found in troubled.items():
        print(f"{kind}: {found[True]} of {sum(found.values())} pieces warned of")


if __name__ == "__main__":
    main()
