"""How fast the pieces of one batch dry against each other: by their form, and by how far each of them is.

In the same air two pieces differ by what is inside them. Water comes out by diffusion: the time scale goes with the square of
volume over surface, and the rate falls as the piece dries. The fall is that of a cylinder whose surface is dry (Crank, The
Mathematics of Diffusion, 1975, eq. 5.23), put into one term that is within a tenth of it from a seventh to four fifths of the water.
"""

from __future__ import annotations

from math import pi, sqrt

WATER = 0.75
"""Water in lean raw meat (Choi and Okos 1986 use 0.75): what a piece can lose at most."""

DENSITY_G_MM3 = 1.04e-3
LENGTH_PER_DIAMETER = 2.67
"""Of a piece whose thickness is not given: 750 g are 70 mm thick (common practice, no source)."""

POWER, START = 0.75, 0.02
STEPS = 40


def pace(*, green_g: float, thickness_mm: float | None) -> float:
    """Return the square of surface over volume, 1/mm2: a piece is so much faster than another of the same meat."""
    volume = green_g / DENSITY_G_MM3
    thick = float((4.0 * volume / (pi * LENGTH_PER_DIAMETER)) ** (1.0 / 3.0)) if thickness_mm is None else thickness_mm
    broad = sqrt(volume / thick)
    return (2.0 / thick + 4.0 / broad) ** 2


def rate(gone: float) -> float:
    """Return the rate of drying, on a scale common to all pieces, when ``gone`` of the water (0..1) has gone."""
    return (1.0 - gone) / float((gone + START) ** POWER)


def fall(gone: float) -> float:
    """Return how steeply the rate falls: minus its logarithmic slope."""
    return 1.0 / (1.0 - gone) + POWER / (gone + START)


def stage(gone: float) -> float:
    """Return the time to ``gone`` of the water over the piece's time scale: the integral of 1/rate, by Simpson's rule."""
    h = gone / STEPS
    inner = sum((4.0 if k % 2 else 2.0) / rate(k * h) for k in range(1, STEPS))
    return h / 3.0 * (1.0 / rate(0.0) + inner + 1.0 / rate(gone))
