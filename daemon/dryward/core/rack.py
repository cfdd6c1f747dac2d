"""One scale for the whole rack: what each piece on it weighs, though only their sum is measured.

Between weighings the pieces' weights follow from the sum (``sharing``); weighings by hand and pieces that are lifted off
(``rack_moves``) set single ones right. A piece is called done when the whole 90 % interval of its estimate lies below its
target; when only the estimate itself does, the owner is asked to weigh it.
"""

from __future__ import annotations

from dataclasses import replace
from math import hypot

from dryward.core import weigh_words as words
from dryward.core.cell import Cell, feed, restarted
from dryward.core.chamber import Scale
from dryward.core.commands import Event
from dryward.core.hook import still_off
from dryward.core.rack_moves import moved
from dryward.core.rack_state import Doubt, Member, Rack
from dryward.core.sharing import Form, Prior, Shared, begin, corrected, follow, weighed, without
from dryward.core.weighing import CERTAIN, HAND_G, HAND_SHARE, PieceState, has_lost, weighs
from dryward.science.falling import pace

EVERY_S = 300.0
"""The weights of a rack's pieces are renewed so often; more would only cost."""
STEADY, PUZZLED = 4, 40
COMMON, OWN = 0.03, 0.01
"""A piece that was never weighed raw again: salting and resting moved all alike by so much, each by so much (no source)."""
SUM_G, SUM_SHARE = 5.0, 0.005
"""Doubt in the sum beforehand: tare, hooks, drip tray (no source)."""
FITS = 4.0  # standard deviations
EMPTY = 0.2  # of the sum expected: less is an empty rack that waits
CONTRADICTS = 5.0
"""A weighing by hand that is off by so many standard deviations is no matter of noise: a piece was cut, or another weighed."""
SAME = 0.02
"""A weighing by hand nearer than this share to what was lifted off or hung up is that."""
UNSURE = 0.02
"""When the 90 % interval of a piece reaches so far, as a share of its green weight, each should be weighed once more. Sooner tells less
of their paces, later leaves them unsure for longer; on simulated racks this moment errs least (tests.bench.weighing rack)."""
OWN_CELL_G = 1.5  # doubt of a cell of its own, tare and drift included
LEAST_SIGMA_G = 0.3


def sample(
    scale: Scale, rack: Rack, pieces: list[PieceState], weight_g: float, at_s: float, *, still: bool
) -> tuple[Rack, tuple[Event, ...]]:
    """Take a sample of the shared scale, into ``pieces`` too. ``weight_g`` has tare and drift taken off."""
    places = {p.piece.name: i for i, p in enumerate(pieces)}
    if _other_load(rack, pieces, places):
        rack = Rack(rack.scale)
    if rack.cell is None:
        return (replace(rack, cell=Cell(weight_g, at_s)) if still else rack), ()
    lightest_g = _lightest_g(rack, pieces)
    cell, jump = feed(rack.cell, weight_g, at_s, settle_s=scale.settle_s, smallest_g=lightest_g, still=still)
    rack = replace(rack, cell=cell)
    if rack.shared is None:
        rack = rack if jump is None else replace(rack, cell=restarted(cell, None))
        return _begin(rack, pieces, at_s)
    events: tuple[Event, ...] = ()
    sigma_g = cell.sigma_g
    if jump is not None:
        known = {name: pieces[i] for name, i in places.items()}
        before = _follow(rack, rack.shared, jump.from_g, sigma_g, jump.at_s)
        rack, events = moved(rack, before, known, jump)
        pieces[:] = known.values()
    rack = _by_hand(rack, pieces, places)
    shared = rack.shared
    if shared is not None and (jump is not None or at_s - shared.at_s >= EVERY_S) and cell.sampled_s == at_s:
        shared = _own_cells(rack, _follow(rack, shared, cell.level_g, sigma_g, at_s), pieces, places)
        rack = replace(rack, shared=shared)
        events += _written(rack, shared, pieces, places, at_s)
        rack, unsure = _unsure(rack, shared)
        events += unsure
    return rack, events


def _other_load(rack: Rack, pieces: list[PieceState], places: dict[str, int]) -> bool:
    """Say whether other pieces were loaded than those that are followed."""
    if rack.shared is None:
        return False
    names = {m.name for m in rack.members}
    for member in rack.members:
        place = places.get(member.name)
        if place is None or pieces[place].weight_g is None or pieces[place].piece.green_g != member.form.green_g:
            return True
    return any(p.piece.scale is None and p.status != "pulled" and p.piece.name not in names for p in pieces)


def _lightest_g(rack: Rack, pieces: list[PieceState]) -> float:
    """The lightest thing that can be lifted off or hung back."""
    known = [p.piece.green_g for p in pieces] if rack.shared is None else rack.shared.weights_g
    return min(known, default=0.0)


def _begin(rack: Rack, pieces: list[PieceState], at_s: float) -> tuple[Rack, tuple[Event, ...]]:
    """Wait until the sum can be that of the pieces: of those without a cell of their own, or of all that hang there."""
    cell = rack.cell
    if cell is None or cell.odd is not None or cell.taken < STEADY or cell.sampled_s != at_s:
        return rack, ()
    here = [p for p in pieces if p.status != "pulled"]
    without_cell = [p for p in here if p.piece.scale is None]
    if not without_cell:
        return rack, ()
    best: tuple[float, list[PieceState], list[Prior]] | None = None
    for group in (without_cell, here):
        priors = [_prior(p) for p in group]
        expected_g = sum(p.weight_g for p in priors)
        common_g = sum(p.common * p.weight_g for p in priors)
        doubt_g = hypot(common_g, *(p.own_g for p in priors), SUM_G + SUM_SHARE * expected_g)
        off = abs(cell.level_g - expected_g) / doubt_g
        if best is None or off < best[0]:
            best = off, group, priors
    if best is None or best[0] > FITS:
        return _puzzled(rack, cell, sum(_prior(p).weight_g for p in without_cell))
    group, priors = best[1], best[2]
    shared = begin(priors, cell.level_g, sigma_g=cell.sigma_g, at_s=at_s)
    forms = [Form(p.piece.green_g, pace(green_g=p.piece.green_g, thickness_mm=p.piece.thickness_mm)) for p in group]
    members = tuple(Member(p.piece.name, f, hand_s=p.hand_s or -1.0e9) for p, f in zip(group, forms, strict=True))
    rack = replace(rack, members=members, shared=shared)
    return rack, _written(rack, shared, pieces, {p.piece.name: i for i, p in enumerate(pieces)}, at_s)


def _prior(state: PieceState) -> Prior:
    if state.weight_g is None:
        return Prior(state.piece.green_g, OWN * state.piece.green_g, COMMON)
    return Prior(state.weight_g, hypot(state.sigma_g, HAND_G, HAND_SHARE * state.weight_g))


def _puzzled(rack: Rack, cell: Cell, expected_g: float) -> tuple[Rack, tuple[Event, ...]]:
    """Say once that the sum cannot be true; an empty rack is only waiting."""
    if rack.told or cell.taken < PUZZLED or cell.level_g < EMPTY * expected_g:
        return rack, ()
    return replace(rack, told=True), (words.sum_cannot_be(cell.level_g, expected_g, rack.scale),)


def _follow(rack: Rack, shared: Shared, total_g: float, sigma_g: float, at_s: float) -> Shared:
    """Share out the loss since the last time; not while it is unknown what hangs there."""
    if rack.doubts:
        return shared
    forms = [m.form for m in rack.members]
    return follow(
        shared, forms, [m.hangs for m in rack.members], total_g - sum(rack.strangers), sigma_g=sigma_g, at_s=at_s
    )


def _by_hand(rack: Rack, pieces: list[PieceState], places: dict[str, int]) -> Rack:
    """Take in what the owner has said since the last sample: weighed, or pulled."""
    for k, member in enumerate(rack.members):
        state = pieces[places[member.name]]
        if (
            state.hand_s is not None
            and state.hand_s > member.hand_s
            and state.weight_g is not None
            and rack.shared is not None
        ):
            sigma_g = hypot(HAND_G, HAND_SHARE * state.weight_g)
            shared, missed_g = rack.shared, abs(state.weight_g - rack.shared.weights_g[k])
            if missed_g > max(CONTRADICTS * hypot(sigma_g, shared.sigma_g(k)), SAME * state.weight_g):
                shared = corrected(shared, k, state.weight_g, sigma_g=sigma_g, hangs=member.hangs)
            else:
                shared = weighed(shared, [k], state.weight_g, sigma_g=sigma_g)
            hung = tuple(s for s in rack.strangers if abs(s - state.weight_g) <= SAME * state.weight_g)
            back = bool(hung) and not member.hangs
            known = replace(member, hand_s=state.hand_s, hangs=member.hangs or back)
            strangers = tuple(s for s in rack.strangers if s != hung[0]) if back else rack.strangers
            rack = replace(
                rack, shared=shared, members=(*rack.members[:k], known, *rack.members[k + 1 :]), strangers=strangers
            )
            if back:
                pieces[places[member.name]] = replace(state, off_s=None)
    for doubt in rack.doubts:
        rack = _answered(rack, doubt, pieces, places)
    for k in reversed(range(len(rack.members))):
        member = rack.members[k]
        if not member.hangs and pieces[places[member.name]].status == "pulled" and rack.shared is not None:
            rack = replace(rack, shared=without(rack.shared, k), members=rack.members[:k] + rack.members[k + 1 :])
    return rack


def _answered(rack: Rack, doubt: Doubt, pieces: list[PieceState], places: dict[str, int]) -> Rack:
    """See whether the owner has weighed or pulled just what is missing since it was lifted off."""
    shared = rack.shared
    if shared is None:
        return rack
    named: list[int] = []
    for k, member in enumerate(rack.members):
        state = pieces[places[member.name]]
        if member.hangs and (state.status == "pulled" or member.hand_s >= doubt.since_s):
            named.append(k)
    for group in ([k] for k in named) if len(named) > 1 else ():
        if _missing(shared, group, doubt):
            named = group
            break
    if not named or not _missing(shared, named, doubt):
        return rack
    for k in named:
        place = places[rack.members[k].name]
        if pieces[place].status != "pulled" and pieces[place].piece.scale is None:
            pieces[place] = replace(pieces[place], off_s=doubt.since_s)
    members = tuple(replace(m, hangs=False) if k in named else m for k, m in enumerate(rack.members))
    return replace(rack, members=members, doubts=tuple(d for d in rack.doubts if d is not doubt))


def _missing(shared: Shared, group: list[int], doubt: Doubt) -> bool:
    """Say whether these members weigh what was lifted off."""
    doubt_g = hypot(doubt.sigma_g, HAND_G, *(shared.sigma_g(k) for k in group))
    apart_g = abs(sum(shared.weights_g[k] for k in group) - doubt.weight_g)
    return apart_g <= max(FITS * doubt_g, SAME * doubt.weight_g)


def _own_cells(rack: Rack, shared: Shared, pieces: list[PieceState], places: dict[str, int]) -> Shared:
    """Pieces that hang on cells of their own are known: that helps the others."""
    for k, member in enumerate(rack.members):
        state = pieces[places[member.name]]
        if state.piece.scale is not None and state.hung and member.hangs and state.weight_g is not None:
            shared = weighed(shared, [k], state.weight_g, sigma_g=OWN_CELL_G)
    return shared


def _unsure(rack: Rack, shared: Shared) -> tuple[Rack, tuple[Event, ...]]:
    """Say once when those who weighed each piece at the start should do so again: see ``UNSURE``."""
    if rack.unsure or rack.doubts or len(rack.members) < 2 or any(m.hand_s < 0.0 or not m.hangs for m in rack.members):
        return rack, ()
    doubts = [CERTAIN * shared.sigma_g(k) / m.form.green_g for k, m in enumerate(rack.members)]
    most = max(doubts)
    if most < UNSURE:
        return rack, ()
    name = rack.members[doubts.index(most)].name
    return replace(rack, unsure=True), (words.rack_unsure(name, 100.0 * most, rack.scale),)


def _written(
    rack: Rack, shared: Shared, pieces: list[PieceState], places: dict[str, int], at_s: float
) -> tuple[Event, ...]:
    """Give the pieces their estimates; ask for a weighing where one is at its target but not certainly."""
    events: tuple[Event, ...] = ()
    for k, member in enumerate(rack.members):
        place = places[member.name]
        state = pieces[place]
        if state.piece.scale is not None or state.status == "pulled":
            continue
        if not member.hangs:
            events += still_off(pieces, place, at_s)
            continue
        if rack.doubts:
            continue
        weight_g, sigma_g = shared.weights_g[k], max(LEAST_SIGMA_G, shared.sigma_g(k))
        state = weighs(state, weight_g, at_s, sigma_g)
        piece = state.piece
        if (
            state.status == "drying"
            and weight_g <= piece.target_g
            and "weigh" not in state.told
            and not has_lost(state, piece.target_loss_pct)
        ):
            state = replace(state, told=(*state.told, "weigh"))
            events += (words.weigh_wanted(piece.name, weight_g, CERTAIN * sigma_g, piece.target_g),)
        pieces[place] = state
    return events
