"""``calc air``: the state of moist air from its temperature and humidity."""

from __future__ import annotations

from dataclasses import asdict

import click

from dryward.doors.calc.answer import NUMBER, answer, json_option, used_rightly


@click.command()
@click.option("--dry-bulb-c", type=NUMBER, required=True, help="Air temperature, degC.")
@click.option("--rh-pct", type=NUMBER, required=True, help="Relative humidity, per cent (10, not 0.10).")
@click.option(
    "--pressure-pa",
    type=NUMBER,
    default=101_325.0,
    show_default=True,
    help="Air pressure, Pa; about 12 Pa less per metre of height.",
)
@json_option
def air(dry_bulb_c: float, rh_pct: float, pressure_pa: float, as_json: bool) -> None:
    """Dew point, wet bulb and the rest, by the ASHRAE equations."""
    from dryward.science.air import evaporation_g_per_m2_h, moist_air

    with used_rightly():
        state = moist_air(dry_bulb_c=dry_bulb_c, rh_pct=rh_pct, pressure_pa=pressure_pa)
    if 0.0 < rh_pct < 1.0:
        click.echo(f"{rh_pct:g} %RH is hardly any. If that was a fraction, write {rh_pct * 100:g}.", err=True)
    potential = evaporation_g_per_m2_h(air_c=dry_bulb_c, rh_pct=rh_pct, pressure_pa=pressure_pa)
    lines = [
        f"Air of {dry_bulb_c:g} degC and {rh_pct:g} %RH at {pressure_pa:g} Pa",
        f"  dew point                {state.dew_point_c:10.2f} degC   colder surfaces get wet",
        f"  wet bulb                 {state.wet_bulb_c:10.2f} degC   a wet piece is near this, not at {dry_bulb_c:g} degC",
        f"  humidity ratio           {state.humidity_ratio_kg_per_kg:10.5f} kg water per kg dry air",
        f"  vapour pressure          {state.vapour_pressure_pa:10.1f} Pa",
        f"  vapour pressure deficit  {state.vapour_pressure_deficit_pa:10.1f} Pa",
        f"  enthalpy                 {state.enthalpy_kj_per_kg:10.2f} kJ per kg dry air",
        f"  specific volume          {state.specific_volume_m3_per_kg:10.4f} m3 per kg dry air",
        f"  drying potential         {potential:10.0f} g/m2/h from a wet surface at 25 W/m2K (estimate)",
    ]
    answer(asdict(state), lines, as_json=as_json)
