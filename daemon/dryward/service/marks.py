"""What became of the run in one tick, told to the record: begun, next step, piece done, piece out, ended."""

from __future__ import annotations

from dryward.core.phases import ENDED
from dryward.core.state import State
from dryward.core.weighing import PieceState, has_lost
from dryward.record.moments import Mark, PieceNotReached, PieceOut, PieceReached, RunBegan, RunEnded, StepBegan

KEEPING_WARM = "keep-warm"


def marks(before: State, after: State) -> tuple[Mark, ...]:
    """Compare two states."""
    if after.run is before.run and after.pieces is before.pieces:
        return ()
    run_id = after.run.run_id or before.run.run_id
    found: list[Mark] = []
    if run_id and after.run.run_id != before.run.run_id and after.run.program is not None:
        pieces = tuple(p.piece for p in after.pieces)
        found.append(RunBegan(run_id=run_id, program=after.run.program, pieces=pieces, state_before=before))
    elif after.run.step_index != before.run.step_index and after.run.program is not None:
        steps = after.run.program.steps
        index = after.run.step_index
        name = steps[index].name if index < len(steps) else KEEPING_WARM
        found.append(StepBegan(run_id=run_id, step_no=index, name=name, why=after.run.step_why))
    if run_id:
        was = {p.piece.name: p.status for p in before.pieces}
        for piece in after.pieces:
            found.extend(_piece_marks(run_id, piece, was.get(piece.piece.name, "drying")))
    if run_id and after.run.phase in ENDED and before.run.phase not in ENDED:
        last_g = {p.piece.name: p.weight_g for p in after.pieces if p.weight_g is not None}
        found.append(RunEnded(run_id=run_id, end_state=after.run.phase, end_reason=after.run.why, last_g=last_g))
    return tuple(found)


def _piece_marks(run_id: str, piece: PieceState, was: str) -> list[Mark]:
    found: list[Mark] = []
    if piece.status == was:
        return found
    name = piece.piece.name
    # Weighed for the first time at its target and taken out with that weight, it has never been 'done' but has reached it.
    reached = piece.status == "done" or (piece.status == "pulled" and has_lost(piece, piece.piece.target_loss_pct))
    if was == "drying" and reached and piece.weight_g is not None:
        crossed_s = piece.crossed_s if piece.crossed_s is not None else piece.weighed_s
        found.append(PieceReached(run_id=run_id, piece=name, weight_g=piece.weight_g, crossed_s=crossed_s))
    if was == "done" and piece.crossed_s is None:
        found.append(PieceNotReached(run_id=run_id, piece=name))
    if piece.status == "pulled":
        found.append(PieceOut(run_id=run_id, piece=name, weight_g=piece.final_g))
    return found
