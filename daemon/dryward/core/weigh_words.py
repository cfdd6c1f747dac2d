"""What weighing says to people: what happened, what it means for the meat, what to do and how to answer."""

from __future__ import annotations

from collections.abc import Sequence

from dryward.core.commands import Event
from dryward.core.program import Piece

LARGE = 0.02
NOT_USED = "Its loss is kept as it was: meat that dries does not change in one moment."


def lifted(name: str, weight_g: float, loss_pct: float, where: str) -> Event:
    """A piece was taken off, and which one is certain."""
    text = f"{name} was lifted off {where}: {weight_g:.0f} g, {loss_pct:.1f} % lost."
    return Event(kind="lifted", subject=name, severity="notice", text=text, value=weight_g)


def which_lifted(names: Sequence[str], weight_g: float, where: str) -> Event:
    """Something was taken off and it may have been one of several."""
    first = names[0] if names else "PIECE"
    return Event(
        kind="which-lifted",
        subject=",".join(names),
        severity="warning",
        text=f"{weight_g:.0f} g were lifted off {where}: that may be {_either(names)}, too close to tell.",
        meaning="Until it is known, the weights of the pieces on it are not followed, and none of them is called done.",
        advice=f"Weigh the one in your hand and enter it: 'dryward weigh {first} GRAMS' (or the other name), or hang it back. If it is out for good: 'dryward pull {first}'.",
        value=weight_g,
    )


def back(names: Sequence[str], weight_g: float, where: str) -> Event:
    """What had been lifted off hangs again. ``names`` empty: it never became known which it was."""
    who = " and ".join(names) or "What was lifted off"
    return Event(
        kind="put-back",
        subject=",".join(names),
        text=f"{who} {'hang' if len(names) > 1 else 'hangs'} on {where} again: {weight_g:.0f} g.",
        value=weight_g,
    )


def which_back(names: Sequence[str], weight_g: float, where: str) -> Event:
    """Something was hung up that is no piece that is known to be off, or may be one of several."""
    if names:
        text = f"{weight_g:.0f} g were hung on {where}: that may be {_either(names)}, too close to tell."
    else:
        text = f"{weight_g:.0f} g were hung on {where}, and no piece that is off weighs so much."
    name = names[0] if names else "PIECE"
    return Event(
        kind="which-back",
        subject=",".join(names),
        severity="warning",
        text=text,
        meaning="It counts for none of your pieces until you say which it is.",
        advice=f"Weigh it and enter it: 'dryward weigh {name} {weight_g:.0f}' with the right name and weight. If it is none of them, take it off.",
        value=weight_g,
    )


def other_hook(name: str, weight_g: float, hook: str, before: str) -> Event:
    """A piece hangs on another cell than before."""
    return Event(
        kind="swapped",
        subject=name,
        severity="notice",
        text=f"By its weight, {weight_g:.0f} g, {name} now hangs on {hook}; it hung on {before} before. From now on it is followed there.",
        advice=f"If that is wrong, hang it back on {before}.",
        value=weight_g,
    )


def jumped(piece: Piece, change_g: float, hook: str) -> Event:
    """A piece's cell changed while it hung there."""
    name = piece.name
    way = "more" if change_g > 0.0 else "less"
    return Event(
        kind="weight-jumped",
        subject=name,
        severity="warning" if abs(change_g) > LARGE * piece.green_g else "notice",
        text=f"{hook} suddenly shows {abs(change_g):.0f} g {way} for {name}. {NOT_USED}",
        meaning="Something touches it or hangs on it, a part of it was cut off, or it was exchanged.",
        advice=f"Look at it; then weigh it and enter 'dryward weigh {name} GRAMS': from then on the cell counts from there.",
        value=change_g,
    )


def shifted(change_g: float, where: str) -> Event:
    """The sum changed by less than a piece weighs."""
    way = "more" if change_g > 0.0 else "less"
    return Event(
        kind="scale-shifted",
        subject=where,
        severity="notice",
        text=f"{where} suddenly shows {abs(change_g):.0f} g {way}; no piece weighs so little. It counts for none of them.",
        meaning="Something touches it, fat or brine has dripped off, or a part of a piece was cut off.",
        advice="If you cut a piece, weigh it and enter it with 'dryward weigh PIECE GRAMS'.",
        value=change_g,
    )


def cannot_be(piece: Piece, weight_g: float, hook: str) -> Event:
    """What a cell shows cannot be the piece that should hang on it."""
    return Event(
        kind="weight-odd",
        subject=piece.name,
        severity="warning",
        text=f"{hook} shows {weight_g:.0f} g, and {piece.name} that should hang there weighed {piece.green_g:.0f} g raw: that cannot be its weight.",
        meaning=f"The loss of {piece.name} is not known, and it will not be called done.",
        advice=f"Is it the right piece, and is tare_g of [scales.{hook}] the empty hook's weight? Then weigh it: 'dryward weigh {piece.name} GRAMS'.",
        value=weight_g,
    )


def sum_cannot_be(weight_g: float, expected_g: float, scale: str) -> Event:
    """What the shared scale shows cannot be the pieces that were loaded."""
    return Event(
        kind="weight-odd",
        subject=scale,
        severity="warning",
        text=f"{scale} shows {weight_g:.0f} g, and the pieces that were loaded should weigh {expected_g:.0f} g together: that cannot be true.",
        meaning="The pieces' losses are not known, and none of them will be called done by it.",
        advice=f"Do all of them hang there, and nothing else? Is tare_g of [scales.{scale}] the weight of the empty rack? Else weigh each piece: 'dryward weigh PIECE GRAMS'.",
        value=weight_g,
    )


def weigh_wanted(name: str, weight_g: float, doubt_g: float, target_g: float) -> Event:
    """An estimate has reached the target but is not certain enough."""
    return Event(
        kind="weigh-wanted",
        subject=name,
        severity="notice",
        text=f"{name} has probably reached its target of {target_g:.0f} g: about {weight_g:.0f} g by the rack, give or take {doubt_g:.0f} g.",
        meaning="It is not called done before that is certain; it may be ready now and go on drying.",
        advice=f"Weigh it: 'dryward weigh {name} GRAMS'.",
        value=weight_g,
    )


def rack_unsure(name: str, doubt_pct: float, scale: str) -> Event:
    """The estimates of a shared scale have become so unsure that weighing each piece once pays most."""
    return Event(
        kind="rack-unsure",
        subject=scale,
        severity="notice",
        text=f"How the loss is shared out among the pieces on {scale} is no longer sure: that of {name} is known to {doubt_pct:.1f} % of its green weight, give or take.",
        meaning="Each piece dries at its own pace, which the rack's sum does not show. Drying goes on as it should.",
        advice="Weigh each piece once when you open next, the sooner the better: it tells each one's pace until its end. 'dryward weigh PIECE GRAMS'.",
        value=doubt_pct,
    )


def long_off(name: str, minutes: float) -> Event:
    """A piece was lifted off and not hung back."""
    return Event(
        kind="still-off",
        subject=name,
        severity="notice",
        text=f"{name} has been off its scale for {minutes:.0f} min.",
        meaning="Out of the chamber it neither dries nor is it kept warm or cold; it counts as still drying.",
        advice=f"Hang it back, or 'dryward pull {name}' if it is out for good. Keep it cold meanwhile.",
    )


def unlike(name: str, ratio: float) -> Event:
    """A piece dries at another pace than its neighbours."""
    if ratio < 1.0:
        pace, meaning = (
            f"{100.0 * ratio:.0f} % of",
            "It gets less moving air, touches a neighbour or the wall, or is fatter or thicker than it was said to be.",
        )
    else:
        pace, meaning = (
            f"{ratio:.1f} times",
            "It hangs in the air stream and its rim may harden while the core stays wet, or it is thinner than it was said to be.",
        )
    return Event(
        kind="dries-unlike",
        subject=name,
        severity="warning",
        text=f"{name} dries at {pace} the pace of its neighbours, their size and form allowed for.",
        meaning=meaning,
        advice="Give it another place, or change places with a neighbour; see that nothing touches it.",
        value=ratio,
    )


def _either(names: Sequence[str]) -> str:
    if not names:
        return "anything"
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} or {names[-1]}"
