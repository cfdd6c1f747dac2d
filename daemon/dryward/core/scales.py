"""The load cells' samples to the pieces: tare and drift taken off, each cell to its piece, a rack's to all on it.

Three outfits and any mixture of them: a cell for each piece (``hook``), one scale for the whole rack (``rack``), or none,
where the kitchen scale tells everything.
"""

from __future__ import annotations

from typing import NamedTuple

from dryward.core import hook, rack
from dryward.core.chamber import Scale
from dryward.core.commands import Event
from dryward.core.inputs import Reading
from dryward.core.layout import Layout
from dryward.core.rack_state import Rack
from dryward.core.weighing import PieceState

LEAST_GAP_S = 5.0
"""A cell that reports more often is heard this often: meat does not change faster, and a tick has to stay cheap."""
UNDERLOAD = 0.1
"""A reading below zero by more than this share of the capacity is a cell that is pulled or broken."""

WANDERS = 0.7 / 5000.0 / 5.0
"""A zero whose drift nobody set wanders by up to this share of the capacity in a kelvin: 0.7 v_min in 5 K (OIML R 60), v_min a
5,000th of the capacity (most class C3 cells have a 7,000th or less, from memory)."""
UNMEASURED_K = 5.0
"""A cell whose temperature nobody measures is so far from that of its tare (no source)."""


class Weights(NamedTuple):
    pieces: tuple[PieceState, ...]
    racks: tuple[Rack, ...]
    events: tuple[Event, ...]


def take_readings(
    layout: Layout,
    pieces: tuple[PieceState, ...],
    racks: tuple[Rack, ...],
    readings: tuple[Reading, ...],
    *,
    door_open: bool,
    cell_c: float | None,
    now: float,
) -> Weights:
    """Feed the load cells' samples to the pieces. ``cell_c``: temperature of the cells, where it is measured.

    Without a new weight the very same ``pieces`` and ``racks`` come back.
    """
    scales = layout.scales
    new: list[PieceState] | None = None
    events: tuple[Event, ...] = ()
    if not scales or not pieces:
        return Weights(pieces, racks, events)
    for reading in readings:
        scale = scales.get(reading.channel)
        if scale is None or reading.value is None or reading.fault or reading.sampled_s > now:
            continue
        if not -UNDERLOAD * scale.max_g <= reading.value <= scale.max_g:
            continue
        weight_g = reading.value - scale.tare_g
        if cell_c is not None and scale.drift_g_per_k is not None:
            weight_g -= scale.drift_g_per_k * (cell_c - scale.tare_c)
        known = new if new is not None else list(pieces)
        at_s = reading.sampled_s
        if scale.carries == "rack":
            own = next((r for r in racks if r.scale == scale.name), Rack(scale.name))
            if own.cell is not None and at_s - own.cell.seen_s < LEAST_GAP_S:
                continue
            after, told = rack.sample(scale, own, known, weight_g, at_s, still=not door_open)
            racks = (*(r for r in racks if r.scale != scale.name), after)
            new, events = known, events + told
            continue
        for i, state in enumerate(known):
            if state.piece.scale != scale.name or state.status == "pulled":
                continue
            if state.cell is None or at_s - state.cell.seen_s >= LEAST_GAP_S:
                wander_g = zero_doubt_g(scale, cell_c)
                events += hook.sample(scale, known, i, weight_g, at_s, still=not door_open, zero_doubt_g=wander_g)
                new = known
            break
    return Weights(pieces if new is None else tuple(new), racks, events)


def zero_doubt_g(scale: Scale, cell_c: float | None) -> float:
    """Return by how much the zero of a scale may have wandered since its tare, g; none where its drift is set and corrected."""
    if scale.drift_g_per_k is not None and cell_c is not None:
        return 0.0
    return WANDERS * scale.max_g * (UNMEASURED_K if cell_c is None else abs(cell_c - scale.tare_c))
