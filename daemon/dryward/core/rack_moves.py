"""A jump of a shared scale: what was lifted off, what was hung back. What is not certain, is asked about."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations
from math import hypot, sqrt

from dryward.core import weigh_words as words
from dryward.core.cell import Jump
from dryward.core.commands import Event
from dryward.core.hook import off_loss_g, off_sigma_g
from dryward.core.lift import FITS, Guess, which
from dryward.core.rack_state import Doubt, Member, Rack
from dryward.core.sharing import Shared, shifted, weighed
from dryward.core.weighing import PieceState, weighs

TOGETHER = 0.01
"""How often two pieces are moved within one sample, or all of them, against one alone (no source)."""
EXCHANGED = 0.3
"""How often one piece is hung back and the next taken off within one sample (no source)."""
NOT_PULLED = 0.01
"""How often it is another piece, when one that was said to be out still hangs (no source)."""
NEAR = 0.025
"""What comes back may be so much lighter or heavier than expected, as long as nothing else comes near."""
LEAST_SIGMA_G = 0.5
STRANGER, UNKNOWN = "a stranger", "what was lifted off"  # no names of pieces: these have no spaces
Pieces = dict[str, PieceState]
Events = tuple[Event, ...]


def moved(rack: Rack, shared: Shared, pieces: Pieces, jump: Jump) -> tuple[Rack, Events]:
    """Take in a jump. ``shared`` is the estimate just before it; changed pieces are put into ``pieces``."""
    rack = replace(rack, shared=shared)
    change_g = jump.change_g
    if rack.shift_g and abs(rack.shift_g + change_g) <= FITS * jump.sigma_g:
        return replace(rack, shared=shifted(shared, change_g, sigma_g=jump.sigma_g), shift_g=0.0), ()
    if (rack.doubts or rack.strangers) and _all_there(rack, shared, pieces, jump):
        back = Guess((), tuple(m.name for m in rack.members if not m.hangs), 0.0, 0.0)
        rack, _ = _done(rack, pieces, back, jump)
        return replace(rack, doubts=(), strangers=()), (words.back((), jump.to_g, rack.scale),)
    guesses = _guesses(rack, shared, pieces, jump.at_s)
    found = which(guesses, change_g, sigma_g=jump.sigma_g)
    if found.sure is not None:
        return _done(rack, pieces, found.sure, jump)
    if len(found.likely) == 1 and not found.likely[0].off:
        return _done(
            rack, pieces, found.likely[0], jump
        )  # it lost more outside than usual, but nothing else comes near
    if found.likely:
        return _asked(rack, pieces, found.likely, jump)
    near = [g for g in guesses if not g.off and abs(g.change_g - change_g) <= NEAR * g.change_g]
    if len(near) == 1:
        return _done(rack, pieces, near[0], jump)
    lightest_g = min(shared.weights_g, default=0.0)
    if abs(change_g) < 0.5 * lightest_g:
        shared = shifted(shared, change_g, sigma_g=jump.sigma_g)
        return replace(rack, shared=shared, shift_g=rack.shift_g + change_g), (words.shifted(change_g, rack.scale),)
    return _doubted(rack, (), -change_g, jump) if change_g < 0.0 else _strange(rack, (), change_g)


def _all_there(rack: Rack, shared: Shared, pieces: Pieces, jump: Jump) -> bool:
    """Say whether less is missing than half a piece, and nothing is too much: then all hang, whatever was thought."""
    here = [k for k, m in enumerate(rack.members) if m.hangs or pieces[m.name].status != "pulled"]
    whole_g = sum(shared.weights_g[k] for k in here) + shared.zero_g
    lightest_g = min((shared.weights_g[k] for k in here), default=0.0)
    doubt_g = hypot(jump.sigma_g, *(shared.sigma_g(k) for k in here))
    return bool(here) and whole_g - 0.5 * lightest_g < jump.to_g < whole_g + FITS * doubt_g


def _guesses(rack: Rack, shared: Shared, pieces: Pieces, at_s: float) -> list[Guess]:
    """All that may have happened within one sample."""
    names = [m.name for m in rack.members]
    hanging = [k for k, m in enumerate(rack.members) if m.hangs]
    out = [k for k in hanging if pieces[names[k]].status == "pulled"]
    lifts: list[tuple[Sequence[int], float]] = [((k,), 1.0 if k in out or not out else NOT_PULLED) for k in hanging]
    lifts += [(pair, TOGETHER) for pair in combinations(hanging, 2) if list(pair) != out]
    lifts += [(hanging, TOGETHER)] if len(hanging) > 2 and hanging != out else []
    lifts += [(out, 1.0)] if len(out) > 1 else []
    found = []
    for group, chance in lifts:
        variance = sum(shared.cov[max(a, b)][min(a, b)] for a in group for b in group)
        weight_g = sum(shared.weights_g[k] for k in group)
        found.append(
            Guess(tuple(names[k] for k in group), (), -weight_g, max(LEAST_SIGMA_G, sqrt(max(0.0, variance))), chance)
        )
    found += [Guess((STRANGER,), (), -s, LEAST_SIGMA_G) for s in rack.strangers]
    singles = [g for g in found if len(g.off) == 1]
    backs = []
    for name in (m.name for m in rack.members if not m.hangs):
        state = pieces[name]
        weight_g = shared.weights_g[names.index(name)] - off_loss_g(state, at_s)
        backs.append(Guess((), (name,), weight_g, off_sigma_g(state, at_s)))
    backs += [Guess((), (UNKNOWN,), d.weight_g, d.sigma_g + 0.002 * d.weight_g) for d in rack.doubts]
    found += backs
    found += [_both(a, b, TOGETHER) for a, b in combinations(backs, 2)]
    found += [_both(a, b, EXCHANGED) for a in singles for b in backs]
    return found


def _both(a: Guess, b: Guess, chance: float) -> Guess:
    return Guess(
        a.off + b.off,
        a.back + b.back,
        a.change_g + b.change_g,
        hypot(a.sigma_g, b.sigma_g),
        chance * a.chance * b.chance,
    )


def _done(rack: Rack, pieces: Pieces, guess: Guess, jump: Jump) -> tuple[Rack, Events]:
    """This is what happened: the jump is the weight of what was moved."""
    alone = len(guess.off) + len(guess.back) == 1
    rack, back_g, told = _hang_all(rack, pieces, guess.back, jump.change_g if alone else None, jump)
    off_g = back_g - jump.change_g
    if STRANGER in guess.off:
        nearest_g = min(rack.strangers, key=lambda s: abs(s - off_g))
        return replace(rack, strangers=_less(rack.strangers, nearest_g)), told
    if not guess.off:
        return rack, told
    sigma_g = jump.sigma_g if alone else hypot(jump.sigma_g, 0.5 * guess.sigma_g)
    rack, lifts = _take_off(rack, pieces, guess.off, off_g, sigma_g, jump.at_s)
    return rack, told + lifts


def _hang_all(
    rack: Rack, pieces: Pieces, names: Sequence[str], seen_g: float | None, jump: Jump
) -> tuple[Rack, float, Events]:
    """Hang these back; return what they weigh together."""
    told: Events = ()
    whole_g = 0.0
    for name in names:
        if name == UNKNOWN:
            nearest = min(rack.doubts, key=lambda d: abs(d.weight_g - abs(jump.change_g)))
            rack, weight_g = replace(rack, doubts=tuple(d for d in rack.doubts if d is not nearest)), nearest.weight_g
        else:
            rack, weight_g = _hang(rack, pieces, name, seen_g, jump)
        whole_g += weight_g
        told += (words.back(() if name == UNKNOWN else (name,), weight_g, rack.scale),)
    return rack, whole_g, told


def _hang(rack: Rack, pieces: Pieces, name: str, seen_g: float | None, jump: Jump) -> tuple[Rack, float]:
    """Hang a member back with the weight the jump shows, or, where others moved too, with what it should weigh."""
    shared, k = rack.shared, _place(rack, name)
    assert shared is not None
    state = pieces[name]
    weight_g = shared.weights_g[k] - off_loss_g(state, jump.at_s) if seen_g is None else seen_g
    sigma_g = off_sigma_g(state, jump.at_s) if seen_g is None else jump.sigma_g
    weights = (
        *shared.weights_g[:k],
        weight_g,
        *shared.weights_g[k + 1 :],
    )  # what it lost outside is not the rack's loss
    shared = weighed(replace(shared, weights_g=weights), [k], weight_g, sigma_g=max(sigma_g, shared.sigma_g(k)))
    if state.piece.scale is None and state.status != "pulled":
        here = replace(state, off_s=None, told=tuple(t for t in state.told if t != "off"))
        pieces[name] = weighs(here, weight_g, jump.at_s, max(jump.sigma_g, shared.sigma_g(k)))
    return replace(rack, shared=shared, members=_set(rack.members, (name,), hangs=True)), weight_g


def _take_off(
    rack: Rack, pieces: Pieces, names: tuple[str, ...], weight_g: float, sigma_g: float, at_s: float
) -> tuple[Rack, Events]:
    """Take members off: together they weigh so much."""
    assert rack.shared is not None
    places = [_place(rack, name) for name in names]
    shared = weighed(rack.shared, places, weight_g, sigma_g=sigma_g)
    told: list[Event] = []
    for name, k in zip(names, places, strict=True):
        state = pieces[name]
        if state.piece.scale is not None or state.status == "pulled":
            continue  # its own cell follows it; or the owner has said so
        off = weighs(
            replace(state, off_s=at_s),
            shared.weights_g[k],
            at_s,
            max(sigma_g if len(names) == 1 else 0.0, shared.sigma_g(k)),
        )
        pieces[name] = off
        told.append(words.lifted(name, shared.weights_g[k], off.loss_pct or 0.0, rack.scale))
    return replace(rack, shared=shared, members=_set(rack.members, names, hangs=False)), tuple(told)


def _asked(rack: Rack, pieces: Pieces, likely: tuple[Guess, ...], jump: Jump) -> tuple[Rack, Events]:
    """Take what all likely guesses have in common, and ask about the rest."""
    told: Events = ()
    change_g = jump.change_g
    if all(g.back == likely[0].back for g in likely):
        rack, back_g, told = _hang_all(rack, pieces, likely[0].back, None, jump)
        change_g -= back_g
    names = tuple(
        dict.fromkeys(n for g in likely for n in (g.off if change_g < 0.0 else g.back) if n not in (STRANGER, UNKNOWN))
    )
    rack, asked = _doubted(rack, names, -change_g, jump) if change_g < 0.0 else _strange(rack, names, change_g)
    return rack, told + asked


def _doubted(rack: Rack, names: tuple[str, ...], weight_g: float, jump: Jump) -> tuple[Rack, Events]:
    names = names or tuple(m.name for m in rack.members if m.hangs)
    doubt = Doubt(names, weight_g, jump.sigma_g, jump.at_s)
    return replace(rack, doubts=(*rack.doubts, doubt)), (words.which_lifted(names, weight_g, rack.scale),)


def _strange(rack: Rack, names: tuple[str, ...], weight_g: float) -> tuple[Rack, Events]:
    return replace(rack, strangers=(*rack.strangers, weight_g)), (words.which_back(names, weight_g, rack.scale),)


def _place(rack: Rack, name: str) -> int:
    return next(k for k, m in enumerate(rack.members) if m.name == name)


def _set(members: tuple[Member, ...], names: Sequence[str], *, hangs: bool) -> tuple[Member, ...]:
    return tuple(replace(m, hangs=hangs) if m.name in names else m for m in members)


def _less(values: tuple[float, ...], one: float) -> tuple[float, ...]:
    place = values.index(one)
    return values[:place] + values[place + 1 :]
