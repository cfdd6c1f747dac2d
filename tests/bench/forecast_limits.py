"""How good a forecast of the real records could be at all: ``python -m tests.bench.forecast_limits``.

Two judges that no forecaster can be: for rice, one who knows the smooth curve through the whole record, the part to come included
(the best of the thin-layer models); for the leaves, one who has watched the eleven other leaves to their end. Where even they miss
half the error of the better simple guess, the goal lies in the weighing errors or in the differences between leaves. Third, what the
real forecast makes of a leaf when the other eleven are finished runs of its record (each leaf left out in turn).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from itertools import accumulate
from statistics import median

from dryward.science.beliefs import led, retrace
from dryward.science.curves import THIN_LAYERS, fit_thin_layer
from dryward.science.forecast import PieceLog, answered, forecast, known_of, learn
from dryward.science.neighbours import shown
from dryward.science.numerics import find_root
from tests.bench.batches import RICE_DRY_G, RICE_WATER_G, Batch, leaves, rice
from tests.bench.forecast import SHARES, guess, moment

BALANCE = 0.0002
"""Error of the leaves' balance as a share of a leaf: 1 mg on 5 g (its last digit is 0.1 mg)."""


def smooth_finish(batch: Batch, piece: str, _: float) -> float:
    """The crossing of the best thin-layer model through the whole record of a rice curve."""
    log = batch.logs[piece]
    times = [t - log[0][0] for t, _ in log]
    ratios = [(weight - RICE_DRY_G) / RICE_WATER_G for _, weight in log]
    fits = [(fit_thin_layer(model, times, ratios), model) for model in THIN_LAYERS]
    best, model = min(fits, key=lambda one: one[0].sum_squares / (len(times) - len(one[1].parameters)))
    wanted = (log[0][1] * (1.0 - batch.target_pct / 100.0) - RICE_DRY_G) / RICE_WATER_G
    return log[0][0] + find_root(lambda t: model.formula(t, *best.parameters) - wanted, 1.0, 2.0 * times[-1])


def watched_finish(batch: Batch, piece: str, now_s: float) -> float:
    """The forecast for a leaf from the whole curves of the others, each at its own pace and bend."""
    left = 1.0 - batch.target_pct / 100.0

    def know(name: str, until_s: float) -> PieceLog:
        rows = [row for row in batch.logs[name] if row[0] <= until_s]
        return PieceLog(
            piece=name, green_g=rows[0][1], target_g=left * rows[0][1], weighings=rows, airs=batch.had(rows)
        )

    one = known_of(know(piece, now_s), (), None)
    ways = []
    for name in batch.logs:
        if name != piece:
            other = known_of(know(name, math.inf), (), None)
            clock = list(accumulate(other.spent[other.limits[len(other.limits) // 2]], initial=0.0))
            way = shown(clock, [point.y for point in other.points], BALANCE)
            ways += led([way], left) if way is not None else []
    beliefs = retrace(one.found, one.points, one.spent, ways, target=left, pace=None)[len(one.found) :]
    finish_s = answered(one, beliefs).finish_s
    return math.inf if finish_s is None else finish_s


def taught_finish(batch: Batch, piece: str, now_s: float) -> float:
    """The real forecast for a leaf that dries alone, taught by the others as past runs; each is weighed until half an hour after its end."""
    left = 1.0 - batch.target_pct / 100.0

    def know(name: str, until_s: float) -> PieceLog:
        rows = [row for row in batch.logs[name] if row[0] <= until_s]
        return PieceLog(
            piece=name, green_g=rows[0][1], target_g=left * rows[0][1], weighings=rows, airs=batch.had(rows)
        )

    past = learn([know(name, (batch.finishes[name] or math.inf) + 1800.0) for name in batch.logs if name != piece])
    finish_s = forecast([know(piece, now_s)], (), past)[0].finish_s
    return math.inf if finish_s is None else finish_s


def rows(batches: Iterable[Batch], best: Callable[[Batch, str, float], float]) -> list[str]:
    """Lines to print, one for each share: what the judge misses by, what the better simple guess misses by, and half of that."""
    lines = []
    found: dict[float, list[tuple[float, float, float]]] = {share: [] for share in SHARES}
    kind = ""
    for batch in batches:
        kind = batch.kind
        for share in SHARES:
            for piece, log in batch.logs.items():
                now_s, finish_s = moment(batch, piece, share), batch.finishes[piece]
                if now_s is None or finish_s is None:
                    continue
                seen = [row for row in log if row[0] <= now_s]
                target_g = log[0][1] * (1.0 - batch.target_pct / 100.0)
                guesses = (best(batch, piece, now_s), guess(seen[-2:], target_g), guess([seen[0], seen[-1]], target_g))
                judged, last, mean = (abs(value - finish_s) / (finish_s - now_s) for value in guesses)
                found[share].append((judged, last, mean))
    for share, errors in found.items():
        judged, last, mean = (median(values) for values in zip(*errors, strict=True))
        naive = min(last, mean)
        lines.append(f"{kind:10} {100 * share:3.0f} % {len(errors):5} {judged:7.3f} {naive:8.3f} {0.5 * naive:8.3f}")
    return lines


def main() -> None:
    """Print the table."""
    print("set          at     n   judge    guess     goal")
    print("\n".join(rows(rice(), smooth_finish) + rows(leaves(), watched_finish)))
    print("taught by the other leaves as past runs:")
    print("\n".join(rows(leaves(), taught_finish)))


if __name__ == "__main__":
    main()
