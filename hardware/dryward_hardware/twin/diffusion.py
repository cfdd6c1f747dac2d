"""Moisture that spreads in one dimension through a slab (from its middle) or a cylinder (from its axis) to the surface.

Nodes carry kg of water per kg of dry matter and lie closer together towards the surface; the last one is the surface
itself. Steps are implicit (stable however long). A step has two halves, so that a chamber can solve its air in between:
``ready`` leaves the surface as ``X = (r - taken) / m`` with ``taken`` the kg of water that will have left, ``take`` then
fills in the rest. Mass is kept to rounding.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from operator import mul

NODES = 12
"""Twelve nodes follow Crank's series within 1 % of the moisture ratio (tests/hardware/test_twin_diffusion.py)."""


class Diffusion:
    """Water in one body. ``depth_m`` is half its thickness or its radius, ``moisture`` runs from inside to the surface."""

    __slots__ = ("_back", "_joint", "_share", "dry_kg", "m", "moisture", "r", "water_kg")

    def __init__(self, *, cylinder: bool, depth_m: float, dry_kg: float, moisture: float, nodes: int = NODES) -> None:
        last = nodes - 1
        place = [1.0 - (1.0 - k / last) ** 2 for k in range(nodes)]
        edge = [0.0, *((a + b) / 2 for a, b in pairwise(place)), 1.0]
        power = 2 if cylinder else 1
        volume = [b**power - a**power for a, b in pairwise(edge)]
        self.dry_kg = dry_kg
        self._share = [v * dry_kg for v in volume]
        # kg/s per (kg/kg) and per m2/s of diffusivity: dry density x area of the edge / distance between its nodes
        slope = [power * edge[k + 1] ** (power - 1) / (place[k + 1] - place[k]) for k in range(last)]
        self._joint = [dry_kg / depth_m**2 * s for s in slope]
        self.moisture = [moisture] * nodes
        self.water_kg = dry_kg * moisture
        self._back: list[tuple[float, float]] = []
        self.m = self.r = 0.0

    def ready(self, dt_s: float, diffusivities: Sequence[float], *, wet: float, floor: float) -> None:
        """Work out the first half of a step over ``dt_s``.

        ``diffusivities`` (m2/s, one between each pair of nodes) hold at moisture ``wet`` and above; they fall in
        proportion to the moisture down to the share ``floor`` in dry matter.
        """
        x = self.moisture
        share = self._share
        per_wet, fall = 0.5 / wet, (1.0 - floor) * dt_s
        rest = floor * dt_s
        back = []
        inner, held, carried = x[0], share[0], share[0] * x[0]
        for joint, d, outer, outer_share in zip(self._joint, diffusivities, x[1:], share[1:], strict=True):
            wetness = (inner + outer) * per_wet
            u = joint * d * (rest + fall * (wetness if wetness < 1.0 else 1.0))
            whole = held + u
            back.append((u / whole, carried / whole))
            held = outer_share + u * held / whole
            carried = outer_share * outer + u * carried / whole
            inner = outer
        self._back = back
        self.m = held
        self.r = carried

    def take(self, taken_kg: float) -> None:
        """Finish the step: so much water has left by the surface (negative: has come)."""
        x = (self.r - taken_kg) / self.m
        found = [x]
        for slope, level in reversed(self._back):
            x = slope * x + level
            found.append(x)
        found.reverse()
        self.moisture = found
        self.water_kg = sum(map(mul, self._share, found))
