"""What differed between runs: program, load, room, drying rate of each piece, energy for each kilogram of water. JSON-able."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields

from dryward.core.program import Ends, Program, Step
from dryward.record.facts import Facts
from dryward.record.gather import gather
from dryward.record.page_curves import Values, curves, grid_of
from dryward.record.queries import Record
from dryward.record.review import Review, judge

COLUMNS = 60
TOLD = frozenset(
    {
        "name",
        "ends",
        "air_c",
        "watch_only",
        "rh_pct",
        "ramp_k_per_h",
        "dwell_h",
        "loss_pct",
        "own_target",
        "core_c",
        "cap_h",
    }
)
"""The options of a step that ``step_words`` has words for; any other is named as in the program file."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceRate:
    """How one piece dried. ``pct_per_day`` is its loss over the time it hung, of its green weight.

    ``forecast_off_h``: by how much the forecasts at a quarter, half and three quarters of its time missed, on average.
    """

    name: str
    green_g: float
    loss_pct: float | None
    hours: float
    pct_per_day: float | None
    forecast_off_h: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """One run in a comparison. ``loss_pct`` is that of the whole load, one value a column from ``hours`` 0 on; None: not known."""

    run_id: str
    verdict: str
    program: str
    steps: tuple[str, ...]
    hours: float
    pieces: int
    green_g: float
    air_mean_c: float | None
    room_mean_c: float | None
    room_rh_mean_pct: float | None
    out_of_band_min: float
    energy_kwh: float | None
    water_g: float | None
    kwh_per_kg: float | None
    rates: tuple[PieceRate, ...]
    loss_pct: tuple[float | None, ...]


def compare(record: Record, run_ids: Sequence[str]) -> tuple[Compared, ...]:
    """Return the runs side by side, in the order given. Raises NoSuchRun."""
    return tuple(_one(record, run_id) for run_id in run_ids)


def _one(record: Record, run_id: str) -> Compared:
    facts = gather(record, run_id)
    review, run = judge(facts), facts.run
    water_g, energy = review.water_g, review.energy_kwh
    return Compared(
        run_id=run_id,
        verdict=review.verdict,
        program=run.program.name,
        steps=step_words(run.program),
        hours=review.hours,
        pieces=len(review.pieces),
        green_g=sum(p.green_g for p in review.pieces),
        air_mean_c=_mean(facts, "control-air"),
        room_mean_c=_mean(facts, "ambient"),
        room_rh_mean_pct=_mean(facts, "ambient-humidity"),
        out_of_band_min=sum(s.below_min + s.above_min for s in review.steps),
        energy_kwh=energy,
        water_g=water_g,
        kwh_per_kg=1000.0 * energy / water_g if energy is not None and water_g and water_g > 0.0 else None,
        rates=tuple(_rate(facts, review, n) for n in range(len(facts.pieces))),
        loss_pct=tuple(_load_loss(record, facts)),
    )


def step_words(program: Program) -> tuple[str, ...]:
    """Return the steps of a program, one line each, and what holds for the whole of it: everything in which two can differ but their names and notes."""
    end = program.at_end
    after = "heat off" if end.action == "off" else f"{end.action} {_number(end.air_c)} degC for {end.max_h:g} h"
    whole = f"in all at most {program.cap_h:g} h, then {after}" + (", poultry" if program.poultry else "")
    return (*(_step(s) for s in program.steps), whole)


def _step(s: Step) -> str:
    said = [f"{s.name}:", "watch only" if s.air_c is None else f"{s.air_c:g} degC"]
    if s.rh_pct is not None:
        said.append(f"{s.rh_pct:g} %RH")
    if s.ramp_k_per_h is not None:
        said.append(f"ramp {s.ramp_k_per_h:g} K/h")
    ends = s.ends
    until = [f"{ends.dwell_h:g} h in band"] if ends.dwell_h is not None else []
    until += [f"{ends.loss_pct:g} % loss"] if ends.loss_pct is not None else []
    until += ["own target"] if ends.own_target else []
    until += [f"core {ends.core_c:g} degC"] if ends.core_c is not None else []
    until += [f"at most {ends.cap_h:g} h"] if ends.cap_h is not None else []
    more = [f"{name} {_number(value)}" for item in (s, ends) for name, value in _unusual(item)]
    return ", ".join([" ".join(said), f"until {' / '.join(until)}", *more])


def _unusual(item: Step | Ends) -> Iterator[tuple[str, object]]:
    """Yield the options of a step that are not as they are when left out, and not told in words."""
    for option in fields(item):
        value = getattr(item, option.name)
        if option.name not in TOLD and value != option.default:
            yield option.name, value


def _number(value: object) -> str:
    return f"{value:g}" if isinstance(value, float) else str(value)


def _mean(facts: Facts, role: str) -> float | None:
    names = [s.name for s in facts.run.chamber.sensors if s.role == role]
    samples = [s for name in names for s in facts.samples.get(name, ())]
    weight = sum(s.ticks for s in samples)
    return sum(s.value * s.ticks for s in samples) / weight if weight else None


def _rate(facts: Facts, review: Review, number: int) -> PieceRate:
    p, run = facts.pieces[number], facts.run
    crossed = p.crossed_s / run.period_s if p.crossed_s is not None else None
    end = next((t for t in (crossed, p.reached_tick, p.out_tick) if t is not None), run.last_tick)
    hours = (end - run.start_tick) * run.period_s / 3600.0
    loss = None if p.final_g is None else 100.0 * (1.0 - p.final_g / p.green_g)
    # To the target, where it was reached: a piece that hung on afterwards did not dry slower on its way there.
    lost = p.target_loss_pct if p.reached_tick is not None else loss
    return PieceRate(
        name=p.name,
        green_g=p.green_g,
        loss_pct=loss,
        hours=hours,
        pct_per_day=None if lost is None or hours <= 0.0 else 24.0 * lost / hours,
        forecast_off_h=_forecast_off_h(review, p.name),
    )


def _forecast_off_h(review: Review, piece: str) -> float | None:
    off = [abs(f.off_h) for f in review.foretold if f.piece == piece and f.off_h is not None]
    return sum(off) / len(off) if off else None


def _load_loss(record: Record, facts: Facts) -> Values:
    """Return the loss of all pieces together, per cent of their green weight; a piece that is out keeps its last."""
    drawn = curves(record, facts, grid=grid_of(facts.run, COLUMNS))
    green = {p.name: p.green_g for p in facts.pieces}
    held: dict[str, float] = {}
    found: list[float | None] = []
    for n in range(drawn.grid.points):
        for name, values in drawn.loss_pct.items():
            value = values[n]
            if value is not None:
                held[name] = value
        known = sum(green[name] for name in held)
        found.append(sum(green[name] * loss for name, loss in held.items()) / known if known else None)
    return found
