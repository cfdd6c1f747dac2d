"""``calc yield``: what is left of the meat and what a finished kilogram costs."""

from __future__ import annotations

from dataclasses import asdict

import click

from dryward.doors.calc.answer import NUMBER, answer, json_option, used_rightly


@click.command("yield")
@click.option("--bought-g", type=NUMBER, required=True, help="Weight bought, g.")
@click.option(
    "--loss-pct", type=NUMBER, required=True, help="Loss in drying, per cent of the green weight (35, not 0.35)."
)
@click.option("--price-per-kg", type=NUMBER, required=True, help="Price of the raw meat per kg, in your money.")
@click.option(
    "--trim-pct",
    type=NUMBER,
    default=0.0,
    show_default=True,
    help="Cut off before salting, per cent of the bought weight.",
)
@click.option(
    "--seasoning-cost",
    type=NUMBER,
    default=0.0,
    show_default=True,
    help="Salt and spices for the batch, in your money.",
)
@click.option(
    "--energy-kwh",
    type=NUMBER,
    default=0.0,
    show_default=True,
    help="Energy of the run, kWh ('dryward review' tells it).",
)
@click.option("--price-per-kwh", type=NUMBER, default=0.0, show_default=True, help="Price of a kWh, in your money.")
@json_option
def finished_yield(
    bought_g: float,
    loss_pct: float,
    price_per_kg: float,
    trim_pct: float,
    seasoning_cost: float,
    energy_kwh: float,
    price_per_kwh: float,
    as_json: bool,
) -> None:
    """Yield, and cost per finished kg."""
    from dryward.science.yield_cost import yield_and_cost

    with used_rightly():
        made = yield_and_cost(
            bought_g=bought_g, loss_pct=loss_pct, price_per_kg=price_per_kg, trim_pct=trim_pct,
            seasoning_cost=seasoning_cost, energy_kwh=energy_kwh, price_per_kwh=price_per_kwh,
        )  # fmt: skip
    lines = [
        f"{made.finished_g:.0f} g finished, {made.yield_pct:.1f} % of what was bought.",
        f"Cost {made.cost:.2f} in all, {made.cost_per_finished_kg:.2f} per finished kg.",
    ]
    answer(asdict(made), lines, as_json=as_json)
