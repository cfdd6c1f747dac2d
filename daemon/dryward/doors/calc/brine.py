"""``calc brine``: molality and water activity of salt in water."""

from __future__ import annotations

import click

from dryward.doors.calc.answer import answer, json_option, used_rightly
from dryward.doors.calc.grams import Grams


@click.command()
@click.option("--salt-g", type=Grams(), required=True, help="Salt (NaCl), g.")
@click.option("--water-g", type=Grams(), required=True, help="Water, g.")
@json_option
def brine(salt_g: float, water_g: float, as_json: bool) -> None:
    """Molality, strength and water activity of a brine of plain salt at 25 degC (Pitzer equation)."""
    from dryward.science import brine as science

    with used_rightly():
        made = science.brine(salt_g=salt_g, water_g=water_g)
    values = {
        "molality_mol_per_kg": made.molality_mol_per_kg, "salt_pct_of_brine": made.salt_pct_of_brine,
        "water_activity": made.water_activity, "saturated": made.saturated,
    }  # fmt: skip
    lines = [
        f"{salt_g:g} g of salt in {water_g:g} g of water (NaCl at 25 degC)",
        f"  molality        {made.molality_mol_per_kg:8.4f} mol per kg of water",
        f"  strength        {made.salt_pct_of_brine:8.2f} % salt of the brine",
        f"  water activity  {made.water_activity:8.4f}",
    ]
    if made.saturated:
        lines.append(
            f"More salt than dissolves ({science.SATURATED_PCT:.1f} % of the brine): the rest stays as crystals."
        )
    answer(values, lines, as_json=as_json)
