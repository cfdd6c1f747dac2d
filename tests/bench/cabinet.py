"""How steadily a cool cabinet is held: ``python -m tests.bench.cabinet [DAYS]`` (20 unless told).

The simulated cabinet with four invented pieces, at 13 degC and 78 %RH, in a cellar with days and nights, its door opened
twice a day. Figures are of the true air, door openings included; the first half day is the start.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass, field

from dryward.core.chamber import Chamber, Control, Output
from dryward.core.control import Air, ControlState, Demand, decide
from dryward.core.humidity import dew_point_c
from dryward_hardware.ports import Hung
from dryward_hardware.twin import Twin

AIR_C, RH_PCT = 13.0, 78.0
NEAR_K, NEAR_PCT = 1.0, 4.0
PERIOD_S = 5.0
START_S = 43_200.0
OUTPUTS = (
    Output(name="cooler", min_on_s=180.0, min_off_s=300.0),
    Output(name="heater", min_on_s=10.0, min_off_s=10.0),
    Output(name="fan"),
    Output(name="humidifier", min_on_s=5.0, min_off_s=30.0),
    Output(name="dehumidifier", min_on_s=10.0, min_off_s=30.0),
    Output(name="vent", min_on_s=60.0, min_off_s=60.0),
)
CONTROL = Control(
    cycle_s=60.0, cool_band_k=0.6, rh_band_pct=2.0, stir_every_s=1800.0, stir_s=300.0
)  # as config/twin-cabinet.toml
HAS = frozenset(output.name for output in OUTPUTS)


@dataclass(slots=True)
class Seen:
    """What was counted."""

    air: list[float] = field(default_factory=list)
    rh: list[float] = field(default_factory=list)
    wet_minutes: int = 0
    wet_without_door: int = 0  # more than five minutes after a door
    too_short: int = 0
    starts: dict[str, int] = field(default_factory=lambda: dict.fromkeys(HAS, 0))
    on_s: dict[str, float] = field(default_factory=lambda: dict.fromkeys(HAS, 0.0))


def held(days: float, *, control: Control | None = None, seed: int = 1) -> Seen:
    """Hold the cabinet for so many days."""
    chamber = Chamber(name="cabinet", sensors=(), outputs=OUTPUTS, control=control or CONTROL, period_s=PERIOD_S)
    doors = [
        {"kind": "door-open", "at_s": (day + hour / 24.0) * 86_400.0, "until_s": (day + hour / 24.0) * 86_400.0 + 60.0}
        for day in range(int(days)) for hour in (9.5, 18.25)
    ]  # fmt: skip
    twin = Twin(
        "twin",
        {
            "model": "cabinet",
            "seed": seed,
            "room": {"air_c": 18.0, "rh_pct": 65.0, "day_swing_k": 3.0},
            "faults": doors,
        },
    )
    twin.hang([Hung(name=f"piece-{n}", green_g=900.0 + 100.0 * n) for n in range(4)])
    state, before, turned_s, door_s, seen = ControlState(), frozenset[str](), -1e9, -1e9, Seen()
    shown: dict[str, float | None] = {}
    for tick in range(int(days * 86_400.0 / PERIOD_S)):
        now = tick * PERIOD_S
        for sample in twin.poll(now).samples:
            shown[sample.channel.partition("/")[2]] = sample.value
        air = Air(
            air_c=shown.get("air"), rh_pct=shown.get("humidity"), ambient_c=shown.get("ambient"), ambient_rh_pct=shown.get("ambient-humidity"),
            door_open=bool(shown.get("door")),
        )  # fmt: skip
        on, state = decide(chamber, state, Demand(air_c=AIR_C, rh_pct=RH_PCT), air, HAS, now)
        twin.want(on, now)
        if ("cooler" in on) is not ("cooler" in before):
            seen.too_short += now - turned_s < (300.0 if "cooler" in on else 180.0)
            turned_s = now
        for name in on:
            seen.starts[name] += name not in before
            seen.on_s[name] += PERIOD_S
        before = on
        truth = twin.truth()
        door_s = now if truth.door_open else door_s
        seen.air.append(truth.air_c)
        seen.rh.append(truth.rh_pct)
        if now >= START_S and tick % 12 == 0:
            coldest_c = min([truth.condition.wall_c, *(piece.surface_c for piece in truth.pieces)])
            wet = dew_point_c(truth.air_c, truth.rh_pct) > coldest_c or truth.condition.wall_film_g > 0.0
            seen.wet_minutes += wet
            seen.wet_without_door += wet and now - door_s > 300.0
    return seen


def near(values: list[float], about: float, reach: float, *, mean_of: int = 1) -> float:
    """Return the share of values, or of means of so many, that lie within ``reach``."""
    parts = [sum(values[i : i + mean_of]) / mean_of for i in range(0, len(values) - mean_of + 1, mean_of)]
    return sum(abs(part - about) <= reach for part in parts) / len(parts)


def main() -> None:
    """Print what was held."""
    days = float(sys.argv[1]) if len(sys.argv) > 1 else 20.0
    seen = held(days)
    first, ten = int(START_S / PERIOD_S), int(600.0 / PERIOD_S)
    air, rh = seen.air[first:], seen.rh[first:]
    print(f"{days:g} days at {AIR_C:g} degC and {RH_PCT:g} %RH, room 18 +- 3 degC, two door openings a day")
    for name, values, about, reach in (("air, degC", air, AIR_C, NEAR_K), ("humidity, %RH", rh, RH_PCT, NEAR_PCT)):
        ordered = sorted(values)
        print(
            f"  {name:<15} mean {sum(values) / len(values):6.2f}   1 % below {ordered[len(values) // 100]:6.2f}   1 % above {ordered[-len(values) // 100]:6.2f}   "
            f"within +-{reach:g}: {100.0 * near(values, about, reach):5.1f} % of the time, {100.0 * near(values, about, reach, mean_of=ten):5.1f} % of ten-minute means"
        )
    print(
        f"  minutes with dew on pieces or walls: {seen.wet_minutes}, of these without a door just opened {seen.wet_without_door};   compressor switched too soon: {seen.too_short}"
    )
    print(
        "  starts per hour and share of time on: "
        + ", ".join(
            f"{n} {seen.starts[n] / days / 24.0:.1f}, {100.0 * seen.on_s[n] / days / 86_400.0:.0f} %"
            for n in sorted(HAS)
        )
    )


if __name__ == "__main__":
    main()
