"""What a drying curve says against the owner's wish: it has stalled, or a crust shuts the water in.

Both compare the last stretch of a piece's own curve with the one before it. The stretches are measured in stages (falling.py),
by which a piece dries evenly however far it is, and in time weighted by the drying power of the air (pace.py), so that a cooler
step is no slowing down. What is left is the piece itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from dryward.science.falling import WATER, stage
from dryward.science.pace import LIMITS, STANDARD, AirAt, Limit, averaged, complete, gains, power
from dryward.science.series import Weight, thin, tidy

Trouble = Literal["stalled", "crust-risk"]

LATELY = 0.3
"""Share of the weighted time that counts as the last stretch."""
STALLED, SLOWED = 0.12, 0.45
"""Pace of the last stretch over the one before it: below the first it stands still, below the second a crust is likely.

Chosen on simulated meat: of 1,788 looks at healthy pieces one warned; of pieces whose pace fell to a quarter or to nothing 92 and
95 % were warned of (``python -m tests.bench.curves``). No source. Food with a floor of its own, such as leaves, stalls by nature near that floor."""
VIEWS = (LIMITS[0], LIMITS[4], LIMITS[8])
"""What may limit drying, from diffusion alone to the surface: a piece is only called slow when it is slow in every view."""
FIRST_GONE, LAST_GONE = 0.06, 0.6
"""Share of the water lost: less is the surface alone; more, and the core is no longer wet."""
WORTH = 0.012
"""So much of the green weight must have been expected in the last stretch, or noise decides."""
LEAST_S = 2.0 * 3600.0


def trouble(green_g: float, weighings: Sequence[tuple[float, float]], airs: Sequence[AirAt]) -> Trouble | None:
    """Say what is wrong with a curve up to its last weighing, or None. Times in s, in any order; linear in their number."""
    weights = thin(tidy(weighings))
    if len(weights) < 4 or weights[-1].t_s - weights[0].t_s < LEAST_S:
        return None
    had = complete(averaged(sorted(airs, key=lambda air: air.t_s)))
    found = [_pace(green_g, weights, _weighted(weights, had, limit)) for limit in VIEWS]
    known = [one for one in found if one is not None]
    if len(known) < len(found):
        return None
    ratio = max(known)
    if ratio < STALLED:
        return "stalled"
    return "crust-risk" if ratio < SLOWED else None


def _weighted(weights: Sequence[Weight], had: Sequence[AirAt], limit: Limit) -> list[float]:
    """The time of each weighing, weighted by the air."""
    times = [weight.t_s for weight in weights]
    if not had:
        return times
    powers = [power(air) for air in had]
    passed = [0.0]
    for gain in gains(times, [air.t_s for air in had], powers, STANDARD, limit):
        passed.append(passed[-1] + gain)
    return passed


def _pace(green_g: float, weights: Sequence[Weight], times: Sequence[float]) -> float | None:
    """The pace of the last stretch over that of the stretch before it; None where that cannot be told."""
    gone = [max(0.0, (1.0 - weight.weight_g / green_g) / WATER) for weight in weights]
    start = next((k for k, share in enumerate(gone) if share >= FIRST_GONE), None)
    if start is None or gone[-1] >= LAST_GONE or start >= len(gone) - 2:
        return None
    cut_s = times[-1] - LATELY * (times[-1] - times[start])
    cut = min(range(start + 1, len(times) - 1), key=lambda k: abs(times[k] - cut_s), default=None)
    if cut is None or gone[cut] <= gone[start]:
        return None
    before = (stage(gone[cut]) - stage(gone[start])) / (times[cut] - times[start])
    lately = (stage(max(gone[cut], gone[-1])) - stage(gone[cut])) / (times[-1] - times[cut])
    slope = (stage(min(0.99, gone[cut] + 0.01)) - stage(gone[cut])) / 0.01
    expected = WATER * before * (times[-1] - times[cut]) / slope
    return lately / before if expected >= WORTH else None
