"""What can be said of a finished piece: each sentence marked measured, estimate or not credited, with what to do about it.

Facts and margins, no promise. The words "safe to eat" are never among them.
"""

from __future__ import annotations

from dataclasses import dataclass

from dryward.science.composition import of_cut
from dryward.science.drying_state import DryingState, drying_state
from dryward.science.heat_statement import POULTRY_CORE_C, HeatFacts, heat_in_short, heat_statements, treat_as_raw
from dryward.science.lines import GROWTH, SHELF_STABLE, side
from dryward.science.wording import KEEP_COLD, WHO_DECIDES, Basis, Statement


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceFacts:
    """A piece as it was weighed last. ``salt_pct`` None: not given, counted as none; ``water_pct`` None: by the cut.

    ``doubt_g``: half the 90 % interval of a weight that was only estimated, from the sum of a rack; 0 when it was weighed.
    """

    name: str
    green_g: float
    weight_g: float
    target_loss_pct: float
    salt_pct: float | None = None
    cut: str = ""
    water_pct: float | None = None
    doubt_g: float = 0.0

    @property
    def basis(self) -> Basis:
        """Whether the weight was measured; an estimate that is good to a gram counts as such."""
        return "estimate" if self.doubt_g >= 1.5 else "measured"

    @property
    def basis_words(self) -> str:
        return (
            f"estimated from the rack's sum, give or take {self.doubt_g:.0f} g"
            if self.basis == "estimate"
            else "measured"
        )

    @property
    def loss_pct(self) -> float:
        return 100.0 * (1.0 - self.weight_g / self.green_g)


@dataclass(frozen=True, slots=True)
class FinishMessage:
    """The short form for alerts: what happened, what it means, what to do."""

    text: str
    meaning: str
    advice: str


def state_of(piece: PieceFacts) -> DryingState | None:
    """Estimate the drying state of a piece; None where its loss leaves no water to reckon with, or its weight cannot be."""
    made_of = of_cut(piece.cut)
    water_pct = made_of.water_pct if piece.water_pct is None else piece.water_pct
    salt_pct = piece.salt_pct or 0.0
    if not -5.0 <= piece.loss_pct < min(90.0, water_pct - salt_pct):
        return None
    return drying_state(
        green_g=piece.green_g,
        water_pct=water_pct,
        salt_pct=salt_pct,
        loss_pct=piece.loss_pct,
        protein_pct=made_of.protein_pct if made_of.known else None,
    )


def finish_message(piece: PieceFacts, heat: HeatFacts) -> FinishMessage:
    """Say in three short texts that a piece is done, that this does not make it keep, and what to do now."""
    cook = (
        f"Poultry: cook it to {POULTRY_CORE_C} degC at the core before eating."
        if heat.poultry and treat_as_raw(heat)
        else ""
    )
    return FinishMessage(
        text=f"{piece.name} is done: {piece.weight_g:.0f} g of {piece.green_g:.0f} g, {piece.loss_pct:.1f} % lost ({piece.basis_words}).",
        meaning=f"{shelf_life(piece).text} {heat_in_short(heat)}",
        advice=" ".join(part for part in (KEEP_COLD, cook, WHO_DECIDES) if part),
    )


def finish_statement(piece: PieceFacts, heat: HeatFacts) -> tuple[Statement, ...]:
    """Give everything that is known of a finished piece, the most important first."""
    # Judged as it is shown: the weight of a piece just announced swings by a tenth of a gram.
    reached = "reached" if round(piece.loss_pct, 1) >= piece.target_loss_pct else "not reached"
    return (
        shelf_life(piece),
        Statement("caution", KEEP_COLD),
        Statement(piece.basis, (
            f"Weight {piece.weight_g:.0f} g{'' if piece.basis == 'measured' else f' ({piece.basis_words})'} of {piece.green_g:.0f} g raw: {piece.loss_pct:.1f} % lost, target {piece.target_loss_pct:g} % {reached}. "
            "Loss is no proof of safety."
        )),
        *_inside(piece),
        *heat_statements(heat),
        Statement("caution", WHO_DECIDES),
    )  # fmt: skip


def shelf_life(piece: PieceFacts) -> Statement:
    """Hold the estimated water activity against 0.85. Never says that a piece keeps: only that it does not, or that it is not known."""
    state = state_of(piece)
    if state is None:
        return Statement(
            "estimate", "Treat it as not shelf stable: its water activity cannot be estimated from this weight."
        )
    figure = f"estimated water activity {state.water_activity:.2f} ({state.water_activity_lo:.2f} to {state.water_activity_hi:.2f})"
    line = f"{SHELF_STABLE.water_activity} ({SHELF_STABLE.source})"
    where = side(SHELF_STABLE, lo=state.water_activity_lo, hi=state.water_activity_hi)
    if where == "above":
        return Statement("estimate", f"It is not shelf stable: {figure}, and the line is {line}.")
    if where == "not known":
        return Statement(
            "estimate", f"Treat it as not shelf stable: {figure} reaches to both sides of the line, {line}."
        )
    return Statement(
        "estimate",
        f"Treat it as not shelf stable until a laboratory has measured it: {figure} lies below the line, {line}, but it is an estimate.",
    )


def _inside(piece: PieceFacts) -> tuple[Statement, ...]:
    state = state_of(piece)
    if state is None:
        return ()
    water = (
        "raw water as the owner gave it" if piece.water_pct is not None else f"raw water by {of_cut(piece.cut).source}"
    )
    salt = (
        "salt not given, counted as none"
        if piece.salt_pct is None
        else f"salt {piece.salt_pct:g} % of the green weight"
    )
    above = "; ".join(
        f"{line.water_activity:.2f}, where {line.above}"
        for line in GROWTH
        if state.water_activity_hi > line.water_activity
    )
    return (
        Statement("estimate", (
            f"Water left {state.water_g:.0f} g, {state.moisture_pct:.0f} % of the piece; salt in that water {state.water_phase_salt_pct:.1f} %. From {salt} and {water}."
        )),
        *([Statement("estimate", f"Its water activity may lie above {above} ({GROWTH[0].source}).")] if above else []),
        *([Statement("estimate", f"Moisture to protein {ratio:.2f}:1: it names products and is not to be used for food safety (FSIS, 2004).")] if (ratio := state.moisture_protein) is not None else []),
    )  # fmt: skip
