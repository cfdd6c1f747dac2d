"""Which piece was it? The size of a jump against what each piece should weigh; in doubt nobody is named."""

from __future__ import annotations

from collections.abc import Sequence
from math import exp, hypot, pi, sqrt
from typing import NamedTuple

SURE = 0.985
"""A guess is taken when it is so probable against all others together."""
FITS = 4.0
"""Further off than so many standard deviations, it was not that."""
STRANGER = 0.02
"""How often something else was moved: a drip tray, a cut-off end, a hand that leans on the rack (no source)."""


class Guess(NamedTuple):
    """What may have happened: these were lifted ``off``, these hung ``back``; the change that makes, its doubt, its chance beforehand."""

    off: tuple[str, ...]
    back: tuple[str, ...]
    change_g: float
    sigma_g: float
    chance: float = 1.0


class Found(NamedTuple):
    """``sure``: the one answer, when it is certain enough. ``likely``: those it may have been; empty: none fits."""

    sure: Guess | None
    likely: tuple[Guess, ...]


def which(guesses: Sequence[Guess], change_g: float, *, sigma_g: float) -> Found:
    """Hold the guesses against a jump by ``change_g``, by Bayes' rule; what a stranger weighs may be anything up to that."""
    total = sum(g.chance for g in guesses)
    fits: list[tuple[float, Guess]] = []
    for guess in guesses:
        doubt_g = hypot(guess.sigma_g, sigma_g)
        off = (change_g - guess.change_g) / doubt_g
        if abs(off) <= FITS:
            fits.append((guess.chance / total * exp(-0.5 * off * off) / (sqrt(2.0 * pi) * doubt_g), guess))
    if not fits:
        return Found(None, ())
    whole = sum(odds for odds, _ in fits) + STRANGER / abs(change_g)
    best, guess = max(fits, key=lambda fit: fit[0])
    if best >= SURE * whole:
        return Found(guess, (guess,))
    return Found(None, tuple(g for odds, g in fits if odds >= (1.0 - SURE) * whole) or (guess,))
