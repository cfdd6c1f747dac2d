"""How steadily a cool cabinet is held: ``python -m tests.bench.cabinet [DAYS]`` (20 unless told).

The simulated cabinet of ``config/twin-cabinet.toml`` with four invented pieces, at 13 degC and 78 %RH, in a cellar with days
and nights, its door opened twice a day. Figures are of the true air; the first half day is the start.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from dryward.core.chamber import Chamber
from dryward.core.control import Air, ControlState, Demand, decide
from dryward.core.humidity import dew_point_c
from dryward.settings import read_settings
from dryward_hardware.ports import Hung
from dryward_hardware.twin import Twin

CONFIG = Path(__file__).parents[2] / "config" / "twin-cabinet.toml"
AIR_C, RH_PCT = 13.0, 78.0
NEAR_K, NEAR_PCT = 1.0, 4.0
START_S = 43_200.0
DOORS_H, DOOR_S = (9.5, 18.25), 60.0
DOOR_COUNTS_S = 1800.0


@dataclass(slots=True)
class Seen:
    """What was counted, tick by tick."""

    period_s: float
    air: list[float] = field(default_factory=list)
    rh: list[float] = field(default_factory=list)
    wet_minutes: set[int] = field(default_factory=set)  # minutes with any dew in them
    wet_shut: set[int] = field(default_factory=set)  # of these, with dew while the door was shut
    too_short: int = 0
    starts: dict[str, int] = field(default_factory=dict)
    on_s: dict[str, float] = field(default_factory=dict)


def shipped() -> tuple[Chamber, dict[str, Any]]:
    """Return the chamber and the simulation of ``config/twin-cabinet.toml``."""
    settings = read_settings(CONFIG)
    return settings.chamber, dict(settings.devices[0].options)


def held(days: float, *, chamber: Chamber, options: dict[str, Any]) -> Seen:
    """Hold the cabinet for so many days."""
    seen, has = Seen(chamber.period_s), frozenset(output.name for output in chamber.outputs)
    doors_s = [(day + hour / 24.0) * 86_400.0 for day in range(int(days)) for hour in DOORS_H]
    doors = [{"kind": "door-open", "at_s": at_s, "until_s": at_s + DOOR_S} for at_s in doors_s]
    twin = Twin("twin", options | {"hooks": (), "faults": doors})
    twin.hang([Hung(name=f"piece-{n}", green_g=900.0 + 100.0 * n) for n in range(4)])
    state, before, turned_s = ControlState(), frozenset[str](), -1e9
    cooler = next(output for output in chamber.outputs if output.name == "cooler")
    shown: dict[str, float | None] = {}
    for tick in range(int(days * 86_400.0 / chamber.period_s)):
        now = tick * chamber.period_s
        for sample in twin.poll(now).samples:
            shown[sample.channel.partition("/")[2]] = sample.value
        air = Air(
            air_c=shown.get("air"), rh_pct=shown.get("humidity"), ambient_c=shown.get("ambient"), ambient_rh_pct=shown.get("ambient-humidity"),
            door_open=bool(shown.get("door")),
        )  # fmt: skip
        on, state = decide(chamber, state, Demand(air_c=AIR_C, rh_pct=RH_PCT), air, has, now)
        twin.want(on, now)
        if ("cooler" in on) is not ("cooler" in before):
            seen.too_short += now - turned_s < (cooler.min_off_s if "cooler" in on else cooler.min_on_s)
            turned_s = now
        for name in on:
            seen.starts[name] = seen.starts.get(name, 0) + (name not in before)
            seen.on_s[name] = seen.on_s.get(name, 0.0) + chamber.period_s
        before = on
        _look(seen, twin, now)
    return seen


def _look(seen: Seen, twin: Twin, now: float) -> None:
    """Write down the true air, and whether there is dew."""
    truth = twin.truth()
    seen.air.append(truth.air_c)
    seen.rh.append(truth.rh_pct)
    coldest_c = min([truth.condition.wall_c, *(piece.surface_c for piece in truth.pieces)])
    if now >= START_S and (dew_point_c(truth.air_c, truth.rh_pct) > coldest_c or truth.condition.wall_film_g > 0.0):
        seen.wet_minutes.add(int(now / 60.0))
        if not truth.door_open:
            seen.wet_shut.add(int(now / 60.0))


def near(values: list[float], about: float, reach: float, *, mean_of: int = 1) -> float:
    """Return the share of values, or of means of so many, that lie within ``reach``."""
    parts = [sum(values[i : i + mean_of]) / mean_of for i in range(0, len(values) - mean_of + 1, mean_of)]
    return sum(abs(part - about) <= reach for part in parts) / len(parts)


def settled(seen: Seen, values: list[float]) -> list[float]:
    """Leave out the start, and half an hour from each opening of the door on."""
    openings = [hour * 3600.0 for hour in DOORS_H]
    times = (tick * seen.period_s for tick in range(len(values)))
    return [
        value for now, value in zip(times, values, strict=True)
        if now >= START_S and not any(0.0 <= now % 86_400.0 - at_s < DOOR_COUNTS_S for at_s in openings)
    ]  # fmt: skip


def line(name: str, days: float, *, room: dict[str, Any] | None = None, **cabinet: float) -> str:
    """One line of the table: the shipped cabinet with other figures of its room or body."""
    chamber, options = shipped()
    options = options | {"room": options["room"] | (room or {}), "cabinet": cabinet}
    seen = held(days, chamber=chamber, options=options)
    first, ten = int(START_S / chamber.period_s), int(600.0 / chamber.period_s)
    air, rh = seen.air[first:], seen.rh[first:]
    shares = (
        near(air, AIR_C, NEAR_K), near(settled(seen, seen.air), AIR_C, NEAR_K), near(rh, RH_PCT, NEAR_PCT),
        near(settled(seen, seen.rh), RH_PCT, NEAR_PCT), near(rh, RH_PCT, NEAR_PCT, mean_of=ten),
    )  # fmt: skip
    hours = days * 24.0
    works = ", ".join(
        f"{short} {seen.starts.get(output, 0) / hours:.1f}/h {100.0 * seen.on_s.get(output, 0.0) / hours / 3600.0:.0f} %"
        for short, output in (("cool", "cooler"), ("wet", "humidifier"), ("dry", "dehumidifier"), ("fan", "fan"))
    )
    figures = "".join(f"{100.0 * share:9.2f}" for share in shares)
    return f"{name:27}{days:5g}{figures}{len(seen.wet_minutes):6} ({len(seen.wet_shut)}){seen.too_short:8}   {works}"


def main() -> None:
    """Print what was held."""
    days = float(sys.argv[1]) if len(sys.argv) > 1 else 20.0
    print(
        f"config/twin-cabinet.toml at {AIR_C:g} degC and {RH_PCT:g} %RH, room 18 +- 3 degC, two doors a day of a minute each."
    )
    print(
        f"Share of time within {NEAR_K:g} K and {NEAR_PCT:g} %RH, in all and without half an hour from each door on; of ten-minute means."
    )
    print(
        "Minutes with any dew, (of these, with the door shut); compressor switched too soon; starts and share of time on."
    )
    print(
        f"{'':27}{'days':>5}{'air %':>9}{'no door':>9}{'RH %':>9}{'no door':>9}{'means':>9}{'dew':>10}{'too soon':>8}"
    )
    print(line("as shipped", days), flush=True)
    short = min(days, 4.0)
    print(line("room at 60 %RH, not 65", short, room={"rh_pct": 60.0}), flush=True)
    for name, figure in (("coil_w_k", 12.0), ("cooler_w", 120.0), ("humidifier_g_h", 150.0), ("volume_m3", 0.35)):
        for share in (0.7, 1.3):
            print(line(f"{name} x {share:g}", short, **{name: share * figure}), flush=True)


if __name__ == "__main__":
    main()
