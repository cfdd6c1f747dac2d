"""What a finished kilogram costs: weight that is left and money that went in. Plain arithmetic, money in any one currency."""

from __future__ import annotations

from dataclasses import dataclass

from dryward.science.figures import fraction_mix_up, outside, refuse


@dataclass(frozen=True, slots=True, kw_only=True)
class Yield:
    finished_g: float
    yield_pct: float
    cost: float
    cost_per_finished_kg: float


def yield_and_cost(
    *,
    bought_g: float,
    loss_pct: float,
    price_per_kg: float,
    trim_pct: float = 0.0,
    seasoning_cost: float = 0.0,
    energy_kwh: float = 0.0,
    price_per_kwh: float = 0.0,
) -> Yield:
    """``trim_pct`` of the bought weight is cut off raw; the rest loses ``loss_pct`` in drying. Raises BadFigures."""
    refuse(
        outside(
            "bought weight",
            bought_g,
            "g",
            low=20.0,
            high=1e6,
            cure=f"If that was kg, write {bought_g * 1000:g}" if 0.0 < bought_g < 20.0 else "",
        ),
        outside("loss", loss_pct, "%", low=1.0, high=90.0, cure=fraction_mix_up(loss_pct, low_pct=1.0)),
        outside("trim", trim_pct, "%", low=0.0, high=90.0),
        *(
            outside(thing, value, "", low=0.0, high=1e6)
            for thing, value in (
                ("price per kg", price_per_kg),
                ("seasoning cost", seasoning_cost),
                ("energy, kWh,", energy_kwh),
                ("price per kWh", price_per_kwh),
            )
        ),
    )
    finished_g = bought_g * (1.0 - trim_pct / 100.0) * (1.0 - loss_pct / 100.0)
    cost = bought_g / 1000.0 * price_per_kg + seasoning_cost + energy_kwh * price_per_kwh
    return Yield(
        finished_g=finished_g,
        yield_pct=100.0 * finished_g / bought_g,
        cost=cost,
        cost_per_finished_kg=1000.0 * cost / finished_g,
    )
