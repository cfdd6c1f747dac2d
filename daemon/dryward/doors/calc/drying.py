"""``calc drying``: what a piece is like inside after so much loss."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from dryward.doors.calc.answer import NUMBER, answer, json_option, used_rightly

if TYPE_CHECKING:
    from collections.abc import Sequence

    from dryward.science.drying_state import DryingState
    from dryward.science.lines import Line

NEEDS_PH = "--heat-treated-and-packaged chooses a table of the FDA Food Code; that needs --ph too"


@click.command()
@click.option("--green-g", type=NUMBER, required=True, help="Raw weight, g, before salt.")
@click.option("--water-pct", type=NUMBER, help="Water of the raw meat, per cent. Left out: by the cut.")
@click.option("--cut", default="", help="Cut, for its water and protein by USDA figures, e.g. 'pork loin'.")
@click.option(
    "--salt-pct", type=NUMBER, required=True, help="Salt in the meat, per cent of the green weight (2.5, not 0.025)."
)
@click.option(
    "--loss-pct", type=NUMBER, required=True, help="Loss of weight, per cent of the green weight (35, not 0.35)."
)
@click.option("--ph", type=NUMBER, help="Measured pH: compares with the FDA Food Code tables.")
@click.option("--heat-treated-and-packaged", is_flag=True, help="Use Food Code Table A instead of B.")
@json_option
def drying(
    green_g: float,
    water_pct: float | None,
    cut: str,
    salt_pct: float,
    loss_pct: float,
    ph: float | None,
    heat_treated_and_packaged: bool,
    as_json: bool,
) -> None:
    """Water left, salt in that water and estimated water activity with its interval.

    An estimate: a laboratory water activity decides.
    """
    from dryward.science.composition import of_cut
    from dryward.science.drying_state import drying_state, fractions_typed
    from dryward.science.figures import outside, refuse
    from dryward.science.lines import LINES, keeps_without_cold, side
    from dryward.science.wording import KEEP_COLD, WHO_DECIDES

    made_of = of_cut(cut)
    with used_rightly():
        refuse(
            *fractions_typed(salt_pct=salt_pct, loss_pct=loss_pct),
            None if ph is None else outside("pH", ph, "", low=3.0, high=8.0),
            NEEDS_PH if heat_treated_and_packaged and ph is None else None,
        )
        state = drying_state(
            green_g=green_g, water_pct=made_of.water_pct if water_pct is None else water_pct, salt_pct=salt_pct, loss_pct=loss_pct,
            protein_pct=made_of.protein_pct if made_of.known else None,
        )  # fmt: skip
    lo, hi = state.water_activity_lo, state.water_activity_hi
    sides = [(line, side(line, lo=lo, hi=hi)) for line in LINES]
    values = _values(state, sides)
    lines = [
        f"{green_g:g} g raw, {loss_pct:g} % lost: {state.weight_g:.0f} g. All of this is an estimate.",
        f"  water left           {state.water_g:8.1f} g, {state.moisture_pct:.1f} % of the piece"
        + ("" if water_pct is not None else f" (raw {made_of.water_pct:g} %: {made_of.source})"),
        f"  salt in that water   {state.water_phase_salt_pct:8.2f} %",
        f"  water activity       {state.water_activity:8.3f}, {lo:.2f} to {hi:.2f}",
        *(
            [
                f"  moisture to protein  {state.moisture_protein:8.2f}:1, names products, not for food safety (FSIS, 2004)"
            ]
            if state.moisture_protein is not None
            else []
        ),
        *(
            f"  {where:>12} {line.water_activity:.2f}: {'above it ' if where != 'above' else ''}{line.above} ({line.source})"
            for line, where in sides
        ),
    ]
    if ph is not None:
        table = "A" if heat_treated_and_packaged else "B"
        values["food_code_non_tcs"] = keeps = keeps_without_cold(
            hi, ph=ph, heat_treated_and_packaged=heat_treated_and_packaged
        )
        lines.append(
            f"  FDA Food Code, Table {table}, pH {ph:g}, upper end: {'no time or temperature control needed' if keeps else 'needs time and temperature control'}"
        )
    answer(values, [*lines, KEEP_COLD, WHO_DECIDES], as_json=as_json)


def _values(state: DryingState, sides: Sequence[tuple[Line, str]]) -> dict[str, object]:
    """Return the state as --json prints it."""
    lo, hi = state.water_activity_lo, state.water_activity_hi
    return {
        "weight_g": state.weight_g, "water_g": state.water_g, "moisture_pct": state.moisture_pct,
        "water_phase_salt_pct": state.water_phase_salt_pct, "molality_mol_per_kg": state.molality_mol_per_kg,
        "water_activity": state.water_activity, "water_activity_lo": lo, "water_activity_hi": hi,
        "moisture_protein": state.moisture_protein, "basis": "estimate",
        "lines": [{"water_activity": line.water_activity, "side": where, "above": line.above, "source": line.source} for line, where in sides],
    }  # fmt: skip
