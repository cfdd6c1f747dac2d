"""What the shell has seen in the pieces' drying curves, kept as alarms for as long as it says so.

The curves themselves are judged off the loop (``science.curve_watch``, the forecast). What comes of it reaches the engine as a
notice, so that it is on record as an input and a replay decides the same. It takes no heat away.
"""

from __future__ import annotations

from dryward.core.alarms import Condition
from dryward.core.inputs import Notice
from dryward.core.phases import ACTIVE
from dryward.core.progress import Run
from dryward.core.weighing import PieceState

CURVE_KEYS = ("stalled", "crust-risk", "out-of-reach")
Curves = tuple[tuple[str, str], ...]
"""Key of the alarm and name of the piece, of all that is wrong now."""


def told(curves: Curves) -> Notice:
    """Return the notice that says that these, and no others, are wrong."""
    return Notice("curves", float(len(curves)), "\n".join(f"{key} {piece}" for key, piece in curves))


def heard(curves: Curves, notices: tuple[Notice, ...], run: Run, pieces: tuple[PieceState, ...]) -> Curves:
    """Return what is wrong after these notices: only with pieces that are drying, only in a run. Unknown keys are dropped."""
    for notice in notices:
        if notice.kind == "curves":
            rows = [line.partition(" ") for line in notice.text.split("\n")]
            curves = tuple((key, piece) for key, _, piece in rows if key in CURVE_KEYS)
    if not curves:
        return curves
    drying = {p.piece.name for p in pieces if p.status == "drying"} if run.phase in ACTIVE else set()
    if all(piece in drying for _, piece in curves):
        return curves
    return tuple((key, piece) for key, piece in curves if piece in drying)


def conditions(curves: Curves) -> tuple[Condition, ...]:
    """Return them as the alarms take them."""
    return tuple([Condition(key, piece) for key, piece in curves]) if curves else ()
