"""How few openings the plan needs and how far pieces are dried by it: ``python -m tests.bench.openings``.

An owner with a kitchen scale weighs simulated pieces when the plan says so, takes out what has reached its target, and is
compared with one who comes at fixed hours and with one who follows the plan but sleeps from 22:00 to 06:30.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from math import inf
from statistics import fmean, median

from dryward.science.comeback import Awaited, Span, late_s, plan
from dryward.science.forecast import PieceLog, forecast, mistakes
from dryward.service.foretell import too_early
from tests.bench.batches import Batch, Log
from tests.bench.drying_twin import twin_batches

HOUR = 3600.0
FIRST_H = 6.0
ROUND_G = 1.0
"""What a kitchen scale shows."""


@dataclass
class Owner:
    """Openings of each batch, and how far past its target each piece was, in per cent of its green weight."""

    openings: list[int] = field(default_factory=list)
    pieces: list[int] = field(default_factory=list)
    over_pp: list[float] = field(default_factory=list)

    def line(self, name: str) -> str:
        worst = sorted(self.over_pp)[int(0.95 * (len(self.over_pp) - 1))]
        within = 100.0 * fmean(o <= 1.0 for o in self.over_pp)
        return (
            f"{name:34} {fmean(self.openings):6.1f} openings a batch of {fmean(self.pieces):.1f} pieces; past the target "
            f"{median(self.over_pp):.2f} pp (median), {worst:.2f} pp (95 %); within 1 pp {within:.0f} %"
        )


def weight_g(log: Log, t_s: float) -> float:
    """The weight of a piece at any moment, on straight lines between what its log says."""
    for (before_s, before), (after_s, after) in pairwise(log):
        if t_s <= after_s:
            return before + (after - before) * (t_s - before_s) / (after_s - before_s)
    return log[-1][1]


def nights(begin_h: float, end_h: float) -> list[tuple[float, float]]:
    return [((24 * d + begin_h) * HOUR, (24 * d + end_h) * HOUR) for d in range(-1, 120)]


def follow(batch: Batch, owner: Owner, quiet: Sequence[tuple[float, float]], *, every_h: float | None = None) -> None:
    """Dry one batch by the plan, or with ``every_h`` by fixed hours, until every piece that gets there is out."""
    logs = {name: log for name, log in batch.logs.items() if batch.finishes[name] is not None}
    if not logs:
        return
    now = min(log[0][0] for log in logs.values())
    weighed = {name: [(now, log[0][1])] for name, log in logs.items()}
    openings = 0
    owner.pieces.append(len(logs))
    while weighed and openings < 60:
        at_s, names = (now + every_h * HOUR, list(weighed)) if every_h else _visit(batch, weighed, quiet, now)
        openings += 1
        now = at_s
        for name in names:
            log = logs[name]
            goal_g = log[0][1] * (1.0 - batch.target_pct / 100.0)
            shown_g = round(weight_g(log, now) / ROUND_G) * ROUND_G
            weighed[name].append((now, shown_g))
            if shown_g <= goal_g or now >= log[-1][0]:
                owner.over_pp.append(max(0.0, 100.0 * (goal_g - weight_g(log, now)) / log[0][1]))
                del weighed[name]
    owner.openings.append(openings)


def _visit(
    batch: Batch, weighed: dict[str, Log], quiet: Sequence[tuple[float, float]], now: float
) -> tuple[float, list[str]]:
    """The next opening as the service would plan it."""
    share = 1.0 - batch.target_pct / 100.0
    made = [
        PieceLog(piece=name, green_g=rows[0][1], target_g=rows[0][1] * share, weighings=rows, airs=batch.had(rows))
        for name, rows in weighed.items()
    ]
    good = [log for log in made if not mistakes(log) and not too_early(log)]
    awaited = []
    for log, answer in zip(good, forecast(good, batch.plan(now)) if good else (), strict=True):
        finish_s, lo_s, hi_s = (inf if t is None else t for t in (answer.finish_s, answer.finish_lo_s, answer.finish_hi_s))  # fmt: skip
        margin_s = late_s(green_g=log.green_g, target_g=log.target_g, weighings=log.weighings, finish_s=finish_s)
        awaited.append(Awaited(piece=log.piece, by_hand=True, finish_s=finish_s, lo_s=lo_s, hi_s=hi_s, late_s=margin_s))
    known = {one.piece for one in awaited if one.finish_s < inf}
    others = [
        Span(name, rows[-1][0] + 0.25 * FIRST_H * HOUR, rows[-1][0] + FIRST_H * HOUR)
        for name, rows in weighed.items()
        if name not in known
    ]
    visit = plan(awaited, others, quiet, now)[0]
    return max(visit.at_s, now + 600.0), [name for name in weighed if name in visit.weigh] or list(weighed)


def _lasts_days(batch: Batch) -> bool:
    """A hot batch whose pieces take from one to six days, as the trade's own do."""
    ends = [end for end in batch.finishes.values() if end is not None]
    return bool(ends) and min(ends) >= 24 * HOUR and max(ends) <= 144 * HOUR


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 30
    batches = [b for b in twin_batches(8 * count, seed=11) if _lasts_days(b)][:count]
    for name, quiet, every_h in (
        ("by the plan", (), None),
        ("by the plan, asleep at night", nights(22.0, 30.5), None),
        ("every 6 hours", (), 6.0),
        ("every 12 hours", (), 12.0),
    ):
        owner = Owner()
        for batch in batches:
            follow(batch, owner, quiet, every_h=every_h)
        print(owner.line(name))


if __name__ == "__main__":
    main()
