"""The text of a label or storage card for one piece, to be printed as it is."""

from __future__ import annotations

from dryward.science.heat_statement import HeatFacts, treat_as_raw
from dryward.science.statement import PieceFacts, state_of
from dryward.science.wording import KEEP_COLD


def label_lines(
    piece: PieceFacts,
    heat: HeatFacts,
    *,
    run_id: str,
    program: str,
    salted_on: str = "",
    dried_from: str = "",
    dried_to: str = "",
) -> tuple[str, ...]:
    """Lines of the label; dates, run and program as the owner writes them, empty ones left out. Estimates are marked."""
    state = state_of(piece)
    dates = [("Salted", salted_on), ("Dried", " to ".join(date for date in (dried_from, dried_to) if date))]
    origin = [("Run", run_id), ("program" if run_id else "Program", program)]
    return (
        f"{piece.name}, {piece.cut}" if piece.cut else piece.name,
        f"{piece.green_g:.0f} g raw, {piece.weight_g:.0f} g dried, {piece.loss_pct:.1f} % lost",
        *(f"{what} {when}" for what, when in dates if when),
        *([made] if (made := ", ".join(f"{what} {said}" for what, said in origin if said)) else []),
        *([f"Salt {piece.salt_pct:g} % of the raw weight"] if piece.salt_pct is not None else []),
        *(
            [
                f"Water activity about {state.water_activity:.2f} (estimate, {state.water_activity_lo:.2f} to {state.water_activity_hi:.2f})"
            ]
            if state
            else []
        ),
        "Not shelf stable unless a laboratory says so",
        "Treat as raw meat"
        if treat_as_raw(heat)
        else f"Core heat credited: {heat.heat.logs:.1f} logs (FSIS Appendix A, {heat.basis})",
        KEEP_COLD,
    )
