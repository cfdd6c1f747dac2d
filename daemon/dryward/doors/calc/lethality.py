"""``calc lethality``: what the record of a core probe adds up to."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from statistics import median

import click

from dryward.doors.calc.answer import NUMBER, Finite, answer, json_option, used_rightly
from dryward.doors.calc.table import SHOWN, BadTable, Table, read_columns
from dryward.science import lethality as science
from dryward.science.figures import celsius_mix_up, not_above_zero, outside, refuse
from dryward.science.humidity import MOIST_RH_PCT, condition_met

LONGEST_GAP_S = 900.0
"""Without --gap-s a gap is three times the record's usual interval, but never more than this."""


@click.command()
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--ref-c", type=NUMBER, help="Reference temperature, degC.")
@click.option("--z-c", type=NUMBER, help="Kelvin for a factor of ten (a z of 10 degF is 5.56).")
@click.option("--d-min", type=NUMBER, help="Minutes at the reference for one factor of ten: gives log_reduction.")
@click.option(
    "--organism", type=click.Choice(list(science.ORGANISMS)), help="Published D and z in place of the three above."
)
@click.option("--appendix-a", is_flag=True, help="Add USDA FSIS Appendix A, 6.5-log and 7-log, for meat (not poultry).")
@click.option(
    "--humidity-condition",
    type=click.Choice(["steam", "sealed", "rh90"]),
    help="The FSIS humidity condition you saw to, where the file has no rh_pct column.",
)
@click.option(
    "--gap-s",
    type=Finite(min=0.0, min_open=True),
    help="Readings further apart credit nothing. Left out: three times the usual interval, at most 900 s.",
)
@json_option
def lethality(
    file: Path, ref_c: float | None, z_c: float | None, d_min: float | None, organism: str | None,
    appendix_a: bool, humidity_condition: str | None, gap_s: float | None, as_json: bool,
) -> None:  # fmt: skip
    """Add up the heat of a core-probe record: FILE has the columns t_s and core_c, and rh_pct where humidity was measured.

    \b
    dryward calc lethality core.csv --ref-c 65.6 --z-c 5.6 --d-min 0.172
    dryward calc lethality core.csv --appendix-a
    """
    kinetics = _kinetics(ref_c, z_c, d_min, organism, appendix_a=appendix_a)
    table = read_columns(file, ["t_s", "core_c"], ["rh_pct"], gaps=["core_c"])
    times_s, core_c = table.columns["t_s"], table.columns["core_c"]
    _refuse_bad_rows(file, table)
    if humidity_condition and "rh_pct" in table.columns:
        raise click.UsageError(
            f"--humidity-condition is for a record without humidity, and {file} has an rh_pct column: what was measured decides. Leave the option out."
        )
    gap_s = gap_s or _usual_gap_s(times_s)
    heat = _added_up(times_s, core_c, kinetics, gap_s)
    condition, why = _humidity(table, humidity_condition, gap_s)
    notes = _notes(heat, times_s, core_c, gap_s)
    values: dict[str, object] = {}
    lines = []
    if kinetics is not None:
        reduction = None if kinetics.d_min is None else heat.f_min / kinetics.d_min
        values |= {"f_min": heat.f_min, "log_reduction": reduction}
        lines.append(
            f"{heat.f_min:.3f} min at {kinetics.ref_c:.2f} degC, z {kinetics.z_c:.2f} K"
            + (f": {reduction:.2f} logs" if reduction is not None else "")
        )
    if appendix_a:
        values |= {
            "logs_6_5_basis": heat.logs,
            "meets_6_5": heat.meets_6_5,
            "meets_7": heat.meets_7,
            "source": science.APPENDIX_A_SOURCE,
        }
        lines.append(
            f"{heat.logs:.2f} logs on the 6.5-log line; by the table 6.5-log is {_met(heat.meets_6_5)}, 7-log is {_met(heat.meets_7)} ({science.APPENDIX_A_SOURCE})"
        )
    values |= {"credited": bool(condition), "humidity": condition or why, "notes": notes}
    lines.append(
        f"Humidity: {condition}." if condition else f"NOT CREDITED: {why}. The figures are time and temperature alone."
    )
    more = [f"... and {len(notes) - SHOWN} earlier ones (--json has them all)."] if len(notes) > SHOWN else []
    answer(values, [*lines, *notes[-SHOWN:], *more], as_json=as_json)


def _added_up(
    times_s: Sequence[float], core_c: Sequence[float], kinetics: science.Kinetics | None, gap_s: float
) -> science.Heat:
    """Fold the record; an empty cell is a gap of its own, however short."""
    heat = science.Heat()
    for at_s, reading_c in zip(times_s, core_c, strict=True):
        if math.isnan(reading_c):
            heat = replace(heat, at_s=None)
        else:
            heat = science.advance(
                heat, core_c=reading_c, moist=True, kinetics=kinetics, gap_s=gap_s, judge_rise=False, now=at_s
            )
    return heat


def _met(yes: bool) -> str:
    return "met" if yes else "not met"


def _kinetics(
    ref_c: float | None, z_c: float | None, d_min: float | None, organism: str | None, *, appendix_a: bool
) -> science.Kinetics | None:
    if organism:
        if ref_c is not None or z_c is not None or d_min is not None:
            raise click.UsageError("--organism stands for --ref-c, --z-c and --d-min: give one or the other.")
        return science.ORGANISMS[organism]
    if ref_c is None or z_c is None:
        if not appendix_a or ref_c is not None or z_c is not None or d_min is not None:
            raise click.UsageError("Give --ref-c and --z-c together, or --organism, or --appendix-a.")
        return None
    with used_rightly():
        refuse(
            outside(
                "reference temperature", ref_c, "degC", low=40.0, high=125.0, cure=celsius_mix_up(ref_c, high_c=125.0)
            ),
            outside("z", z_c, "K", low=2.0, high=25.0, cure="A z in degF is divided by 1.8" if z_c > 25.0 else ""),
            None if d_min is None else not_above_zero("D", d_min, "min", high=10_000.0),
        )
    return science.Kinetics(ref_c=ref_c, z_c=z_c, d_min=d_min)


def _refuse_bad_rows(file: Path, table: Table) -> None:
    """Refuse a record that runs backwards or holds what no core of meat reads."""
    times_s, core_c = table.columns["t_s"], table.columns["core_c"]
    mistakes = [
        f"row {row}: t_s is {after:g}, earlier than {before:g} before it; sort the record, or cut it where its clock was set"
        for before, after, row in zip(times_s, times_s[1:], table.rows[1:], strict=False)
        if after < before
    ]
    mistakes += [
        f"row {row}: {said}"
        for reading_c, row in zip(core_c, table.rows, strict=True)
        if not math.isnan(reading_c) and (said := science.core_mistake(reading_c))
    ]
    for rh_pct, row in zip(table.columns.get("rh_pct", ()), table.rows, strict=False):
        if not math.isnan(rh_pct) and (said := outside("relative humidity", rh_pct, "%RH", low=0.0, high=100.0)):
            mistakes.append(f"row {row}: {said}")
    if mistakes:
        raise BadTable(file, mistakes)


def _usual_gap_s(times_s: Sequence[float]) -> float:
    apart = [after - before for before, after in pairwise(times_s) if after > before]
    return min(3.0 * median(apart), LONGEST_GAP_S) if apart else LONGEST_GAP_S


def _humidity(table: Table, stated: str | None, gap_s: float) -> tuple[str, str]:
    """Give the humidity condition that held, or why none did."""
    if stated:
        return f"{stated}, as the owner states", ""
    times_s, rh_pct = table.columns["t_s"], table.columns.get("rh_pct")
    if rh_pct is None:
        return "", "there is no rh_pct column, and FSIS credits heat only in moist air (FSIS-GD-2021-14)"
    moist = [value >= MOIST_RH_PCT for value in rh_pct]
    moist_s = sum(
        after - before
        for before, after, one, other in zip(times_s, times_s[1:], moist, moist[1:], strict=False)
        if one and other and after - before <= gap_s
    )  # fmt: skip
    cook_s = times_s[-1] - times_s[0]
    held = condition_met(cook_s=cook_s, moist_s=moist_s)
    return (
        held,
        f"the air held {MOIST_RH_PCT:g} %RH for {moist_s / 60:.0f} of {cook_s / 60:.0f} min, which meets no condition of FSIS-GD-2021-14",
    )


def _notes(heat: science.Heat, times_s: Sequence[float], core_c: Sequence[float], gap_s: float) -> list[str]:
    notes = []
    before_s, empty = math.inf, False
    for at_s, reading_c in zip(times_s, core_c, strict=True):
        if math.isnan(reading_c):
            empty = True
            continue
        if at_s - before_s > gap_s or (empty and before_s < math.inf):
            notes.append(
                f"Gap from {before_s:g} to {at_s:g} s: it credits nothing (longest interval that counts: {gap_s:g} s)."
            )
        before_s, empty = at_s, False
    if heat.doubt:
        notes.append(f"Stopped counting: {heat.doubt}. If it was put back, cut the record there.")
    return notes
