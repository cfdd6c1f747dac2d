"""``calc loss``: the weight at which a piece is done, and how far it has come."""

from __future__ import annotations

import click

from dryward.doors.calc.answer import NUMBER, answer, json_option, used_rightly
from dryward.science import loss as science


@click.command()
@click.option("--green-g", type=NUMBER, required=True, help="Raw weight of the piece, g, before salt.")
@click.option(
    "--loss-pct",
    "--target-loss-pct",
    "target_loss_pct",
    type=NUMBER,
    required=True,
    help="Loss it is to reach, per cent of its green weight (35, not 0.35).",
)
@click.option("--weight-g", type=NUMBER, help="Weight now, g: adds the loss so far and what is still to go.")
@json_option
def loss(green_g: float, target_loss_pct: float, weight_g: float | None, as_json: bool) -> None:
    """Target weight of a piece from its green weight and target loss.

    \b
    dryward calc loss --green-g 1000 --loss-pct 35
    dryward calc loss --green-g 1000 --loss-pct 35 --weight-g 720
    """
    with used_rightly():
        target_g = science.target_g(green_g=green_g, loss_pct=target_loss_pct)
        values: dict[str, object] = {
            "green_g": green_g,
            "target_loss_pct": target_loss_pct,
            "target_g": round(target_g, 6),
        }
        lines = [f"Done at {target_g:.1f} g: {target_loss_pct:g} % less than its green weight of {green_g:g} g."]
        if weight_g is not None:
            lost_pct = science.loss_pct(green_g=green_g, weight_g=weight_g)
            to_go_g = max(0.0, weight_g - target_g)
            done = weight_g <= target_g
            values |= {"weight_g": weight_g, "loss_pct": round(lost_pct, 6), "to_go_g": round(to_go_g, 6), "done": done}
            lines.append(
                f"Now {weight_g:g} g: {lost_pct:.1f} % lost, "
                + ("target reached." if done else f"{to_go_g:.1f} g to go.")
            )
    answer(values, [*lines, "Loss of weight is not a safety proof: see 'dryward calc drying'."], as_json=as_json)
