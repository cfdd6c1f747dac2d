"""How good the forecast of the finish is: ``python -m tests.bench.forecast``.

A forecast is made at the weighing nearest to 25, 50 and 75 % of a piece's drying time, from what was known then. Its error is divided
by the time that remained and set against two simple guesses: the last rate goes on, the mean rate goes on.
"""

from __future__ import annotations

import math
import random
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean, median

from dryward.science.forecast import PieceLog, forecast
from tests.bench.batches import Batch, Log, leaves, rice
from tests.bench.drying_twin import twin_batches
from tests.bench.strangers import strangers

SHARES = (0.25, 0.5, 0.75)
NEAR = 0.15


@dataclass(frozen=True, slots=True)
class Verdict:
    """One forecast, judged. Errors and width are shares of the time that remained."""

    kind: str
    share: float
    error: float
    last_rate: float
    mean_rate: float
    covered: bool
    width: float
    bias: float


def moment(batch: Batch, piece: str, share: float) -> float | None:
    """The weighing nearest to a share of a piece's drying time; None where nobody weighed near it."""
    finish_s = batch.finishes[piece]
    log = batch.logs[piece]
    if finish_s is None:
        return None
    start_s = log[0][0]
    wanted_s = start_s + share * (finish_s - start_s)
    now_s = min((t for t, _ in log[1:] if t < finish_s), key=lambda t: abs(t - wanted_s), default=None)
    if now_s is None or abs(now_s - wanted_s) > NEAR * (finish_s - start_s):
        return None
    return now_s


def judge(batch: Batch, piece: str, share: float) -> Verdict | None:
    """Forecast ``piece`` at a share of its drying time; None where nobody weighed near it."""
    finish_s, now_s, log = batch.finishes[piece], moment(batch, piece, share), batch.logs[piece]
    if finish_s is None or now_s is None:
        return None
    so_far = {name: [row for row in rows if row[0] <= now_s] for name, rows in batch.logs.items()}
    left = 1.0 - batch.target_pct / 100.0
    logs = [
        PieceLog(piece=name, green_g=rows[0][1], target_g=rows[0][1] * left, weighings=rows, airs=batch.had(rows))
        for name, rows in so_far.items()
        if len(rows) > 1
    ]
    answer = next(one for one in forecast(logs, batch.plan(now_s)) if one.piece == piece)
    remained = finish_s - now_s
    low, middle, high = (
        math.inf if t is None else t for t in (answer.finish_lo_s, answer.finish_s, answer.finish_hi_s)
    )
    seen, target_g = so_far[piece], log[0][1] * left
    return Verdict(
        batch.kind, share, abs(middle - finish_s) / remained, abs(guess(seen[-2:], target_g) - finish_s) / remained,
        abs(guess([seen[0], seen[-1]], target_g) - finish_s) / remained, low <= finish_s <= high, (high - low) / remained, (middle - finish_s) / remained,
    )  # fmt: skip


def guess(ends: Log, target_g: float) -> float:
    """The finish if the rate between two weighings goes on."""
    (before_s, before), (now_s, now) = ends
    return now_s + (now - target_g) / (before - now) * (now_s - before_s) if before > now else math.inf


def judged(batches: Sequence[Batch], *, every_piece: bool) -> list[Verdict]:
    """Judge every piece at every share, or one piece of each batch at each share."""
    chance = random.Random(3)
    found = []
    for batch in batches:
        for share in SHARES:
            for piece in batch.logs if every_piece else [chance.choice(list(batch.logs))]:
                verdict = judge(batch, piece, share)
                if verdict is not None:
                    found.append(verdict)
    return found


def table(verdicts: Sequence[Verdict]) -> list[str]:
    """Lines to print: one for each set and share."""
    lines = ["set          at     n   error  last rate  mean rate  ratio  covered  width   bias"]
    for kind in dict.fromkeys(verdict.kind for verdict in verdicts):
        for share in SHARES:
            of = [verdict for verdict in verdicts if verdict.kind == kind and verdict.share == share]
            if not of:
                continue
            error, last, mean = (
                median(v.error for v in of),
                median(v.last_rate for v in of),
                median(v.mean_rate for v in of),
            )
            covered = 100.0 * fmean(v.covered for v in of)
            lines.append(
                f"{kind:10} {100 * share:3.0f} % {len(of):5} {error:7.3f} {last:10.3f} {mean:10.3f} {error / min(last, mean):6.2f}"
                f" {covered:6.0f} % {median(v.width for v in of):6.2f} {median(v.bias for v in of):+6.2f}"
            )
    return lines


def main() -> None:
    """Print the table; a number as argument sets how many simulated batches there are."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 240
    found = judged(leaves(), every_piece=True) + judged(rice(), every_piece=True)
    found += judged(twin_batches(count), every_piece=False)
    unknown = judged(strangers(count), every_piece=False)
    print("\n".join(table(found + unknown)))
    print("all kinds of the simulated strangers:")
    print(
        "\n".join(
            table(
                [
                    Verdict("strangers", v.share, v.error, v.last_rate, v.mean_rate, v.covered, v.width, v.bias)
                    for v in unknown
                ]
            )[1:]
        )
    )


if __name__ == "__main__":
    main()
