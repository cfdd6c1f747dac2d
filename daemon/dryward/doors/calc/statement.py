"""``calc statement``: what can be said of a finished piece, and the text for its label."""

from __future__ import annotations

import click

from dryward.doors.calc.answer import NUMBER, answer, json_option, used_rightly


@click.command()
@click.option("--name", default="piece", show_default=True, help="Name of the piece.")
@click.option("--green-g", type=NUMBER, required=True, help="Raw weight, g, before salt.")
@click.option("--weight-g", type=NUMBER, required=True, help="Weight now, g.")
@click.option("--target-loss-pct", type=NUMBER, default=35.0, show_default=True, help="Loss it was to reach, per cent.")
@click.option("--salt-pct", type=NUMBER, help="Salt rubbed in, per cent of the green weight (2.5, not 0.025).")
@click.option("--cut", default="", help="Cut, for the label and for its composition.")
@click.option("--water-pct", type=NUMBER, help="Water of the raw meat, per cent; left out: by the cut.")
@click.option("--poultry", is_flag=True, help="Duck, goose and other poultry.")
@click.option("--label", "label_only", is_flag=True, help="Print the text for the label instead.")
@click.option("--run-id", default="", help="Run, for the label.")
@click.option("--program", default="", help="Program, for the label.")
@click.option("--salted-on", default="", help="Date for the label.")
@click.option("--dried-from", default="", help="Date for the label.")
@click.option("--dried-to", default="", help="Date for the label.")
@json_option
def statement(
    name: str, green_g: float, weight_g: float, target_loss_pct: float, salt_pct: float | None, cut: str, water_pct: float | None, poultry: bool,
    label_only: bool, run_id: str, program: str, salted_on: str, dried_from: str, dried_to: str, as_json: bool,
) -> None:  # fmt: skip
    """What is known, estimated and not credited about a piece weighed by hand, without a core probe, and what to do."""
    from dryward.science.drying_state import fractions_typed, raw_mistakes
    from dryward.science.figures import refuse
    from dryward.science.heat_statement import HeatFacts
    from dryward.science.label import label_lines
    from dryward.science.loss import loss_pct, target_g
    from dryward.science.statement import PieceFacts, finish_statement

    with used_rightly():
        typed = fractions_typed(salt_pct=salt_pct or 0.0, loss_pct=0.0)
        refuse(*(typed if any(typed) else raw_mistakes(salt_pct=salt_pct or 0.0, water_pct=water_pct)))
        loss_pct(green_g=green_g, weight_g=weight_g)
        target_g(green_g=green_g, loss_pct=target_loss_pct)
        piece = PieceFacts(
            name=name,
            green_g=green_g,
            weight_g=weight_g,
            target_loss_pct=target_loss_pct,
            salt_pct=salt_pct,
            cut=cut,
            water_pct=water_pct,
        )
        heat = HeatFacts(poultry=poultry)
        said = finish_statement(piece, heat)
        label = label_lines(
            piece, heat, run_id=run_id, program=program, salted_on=salted_on, dried_from=dried_from, dried_to=dried_to
        )
    values = {"statements": [{"basis": one.basis, "text": one.text} for one in said], "label": list(label)}
    answer(values, label if label_only else [str(one) for one in said], as_json=as_json)
