"""The charts of a review page: what is drawn, how it is called, and what it says to those who do not see it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from dryward.record.facts import Facts
from dryward.record.page_curves import Curve, Curves, Grid, Values
from dryward.record.page_draw import HIGH, WIDE, Scale, area, box, dots, level, line, scale, staircase, upright
from dryward.record.page_marks import Mark
from dryward.record.page_words import length, number, spread, too_hot_above
from dryward.record.review import PieceVerdict

LIMIT_SHOWN_K = 20.0
"""The limit is drawn when the air came this near to it; further off it would only flatten the curves."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Key:
    """One curve in the legend. ``style`` is its class; ``values`` are what a finger or the arrow keys read."""

    label: str
    style: str
    values: Values
    unit: str
    places: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Tag:
    """A word at a place along the time axis; ``end`` when it has to lie left of its place."""

    text: str
    left: float
    kind: str
    end: bool = False
    row: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Chart:
    """One drawing. ``shapes`` are (class, path), the first at the bottom; ``ticks`` (per cent from the top, label)."""

    name: str
    title: str
    said: str
    unit: str
    ticks: Sequence[tuple[float, str]]
    shapes: Sequence[tuple[str, str]]
    keys: Sequence[Key]
    tags: Sequence[Tag] = ()
    size: str = ""


def air_chart(facts: Facts, curves: Curves, marked: Sequence[Mark]) -> Chart:
    """Temperature against program, with bands, trips, holds and the limit."""
    seen = curves.of_role("control-air", "limit-air", "core")
    limit_c = too_hot_above(facts.run)
    rows = [row for c in seen for row in ((c.low, c.high) if c.role == "control-air" else (c.mean,))]
    highest = max((v for row in rows for v in row if v is not None), default=0.0)
    near = highest + LIMIT_SHOWN_K >= limit_c
    axis = scale(*rows, curves.setpoint_c, least=6.0, parts=6, ceiling=limit_c + 1.0 if near else None)
    shapes = [("hold", box(m.at, m.to, axis.low, axis.high, axis)) for m in marked if m.kind == "hold"]
    shapes += [("band", path) for path in _bands(facts, marked, axis)]
    shapes += _grid(axis)
    shapes += [("step", upright(m.at)) for m in marked if m.kind == "step" and m.at > 0.0]
    if near:
        shapes.append(("limit", level(limit_c, axis)))
    keys = []
    for style, curve in _styled(seen):
        if curve.role == "control-air":
            shapes.append(("air-spread", area(curve.low, curve.high, axis)))
        shapes.append((style, line(curve.mean, axis)))
        keys.append(Key(label=_called(curve, seen), style=style, values=curve.mean, unit="°C"))
    if any(v is not None for v in curves.setpoint_c):
        shapes.append(("setpoint", staircase(curves.setpoint_c, axis)))
        keys.append(Key(label="Program", style="setpoint", values=curves.setpoint_c, unit="°C"))
    shapes += [(m.kind, upright(m.at)) for m in marked if m.kind in ("alarm", "trip", "end")]
    said = "; ".join(f"{_called(c, seen).lower()} {spread(c.low, c.high, 'degrees Celsius')}" for c in seen)
    said += f". Limit {limit_c:g} degrees Celsius." if seen else "No temperature was recorded."
    return Chart(
        name="air", title="Air against program", said=said, unit="°C", ticks=_ticks(axis), shapes=shapes, keys=keys,
        tags=[*_tags(marked), *([Tag(text=f"limit {limit_c:g} °C", left=1.0, kind="limit", end=True, row=round(axis.y(limit_c)))] if near else [])],
        size="tall",
    )  # fmt: skip


def _bands(facts: Facts, marked: Sequence[Mark], axis: Scale) -> list[str]:
    found = []
    for line_, mark in zip(facts.steps, (m for m in marked if m.kind == "step"), strict=True):
        steps = facts.run.program.steps
        step = steps[line_.step_no] if line_.step_no < len(steps) else None
        if step is not None and step.air_c is not None:
            found.append(box(mark.at, mark.to, step.air_c - step.band_k, step.air_c + step.band_k, axis))
    return found


def _styled(seen: Sequence[Curve]) -> list[tuple[str, Curve]]:
    """Return the curves with their styles, the most important drawn last."""
    styles = {"control-air": "air", "limit-air": "second", "core": "core"}
    return [(styles[c.role], c) for c in reversed(seen)]


def _called(curve: Curve, among: Sequence[Curve]) -> str:
    words = {"control-air": "Air", "limit-air": "Second air", "core": "Core", "humidity": "Humidity", "ambient": "Room"}
    alone = sum(c.role == curve.role for c in among) == 1
    return words.get(curve.role, curve.name) if alone else f"{words.get(curve.role, '')} {curve.name}".strip()


def _tags(marked: Sequence[Mark]) -> list[Tag]:
    found = [Tag(text=m.text, left=m.at, kind="step") for m in marked if m.kind == "step" and m.to - m.at > 0.06]
    found += [
        Tag(text="held", left=(m.at + m.to) / 2.0, kind="hold")
        for m in marked
        if m.kind == "hold" and m.to - m.at > 0.05
    ]
    found += [
        Tag(text=f"{'▲' if m.kind == 'trip' else '△'} {m.row}", left=m.at, kind=m.kind, end=m.at > 0.9, row=m.row)
        for m in marked
        if m.kind in ("trip", "alarm")
    ]
    return found + [Tag(text=m.text, left=1.0, kind="end", end=True) for m in marked if m.kind == "end"]


def damp_chart(curves: Curves, marked: Sequence[Mark]) -> Chart | None:
    """Relative humidity, with its setpoint where there is one."""
    seen = curves.of_role("humidity")
    if not seen:
        return None
    main = seen[0]
    axis = scale(*(r for c in seen for r in (c.low, c.high)), curves.rh_setpoint_pct, least=10.0, bottom=0.0)
    shapes = [
        *_holds(marked, axis),
        *_grid(axis),
        ("damp-spread", area(main.low, main.high, axis)),
        *((f"damp{'-2' if n else ''}", line(c.mean, axis)) for n, c in enumerate(seen)),
        *_ends(marked),
    ]
    keys = [
        Key(label=_called(c, seen), style=f"damp{'-2' if n else ''}", values=c.mean, unit="%")
        for n, c in enumerate(seen)
    ]
    if any(v is not None for v in curves.rh_setpoint_pct):
        shapes.append(("setpoint", staircase(curves.rh_setpoint_pct, axis)))
        keys.append(Key(label="Program", style="setpoint", values=curves.rh_setpoint_pct, unit="%"))
    return Chart(
        name="damp",
        title="Humidity",
        said=f"Relative humidity {spread(main.low, main.high, 'per cent', 0)}.",
        unit="%RH",
        ticks=_ticks(axis),
        shapes=shapes,
        keys=keys,
    )


def wet_chart(curves: Curves, marked: Sequence[Mark]) -> Chart | None:
    """Wet bulb of the chamber's air, and the room around it."""
    room = curves.of_role("ambient")
    keys = [Key(label="Wet bulb", style="wet", values=curves.wet_bulb_c, unit="°C")]
    keys += [Key(label=_called(c, room), style="room", values=c.mean, unit="°C") for c in room[:1]]
    keys = [k for k in keys if any(v is not None for v in k.values)]
    if not keys:
        return None
    axis = scale(*(k.values for k in keys), least=6.0)
    shapes = [
        *_holds(marked, axis),
        *_grid(axis),
        *((k.style, line(k.values, axis)) for k in reversed(keys)),
        *_ends(marked),
    ]
    said = "; ".join(f"{k.label.lower()} {spread(k.values, k.values, 'degrees Celsius')}" for k in keys) + "."
    return Chart(
        name="wet",
        title="Wet bulb and room" if len(keys) > 1 else keys[0].label,
        said=said,
        unit="°C",
        ticks=_ticks(axis),
        shapes=shapes,
        keys=keys,
    )


def duty_chart(curves: Curves, marked: Sequence[Mark]) -> Chart | None:
    """How hard the heater worked."""
    if not any(v is not None for v in curves.duty_pct):
        return None
    axis = Scale(0.0, 100.0, (0.0, 25.0, 50.0, 75.0, 100.0))
    zero = [None if v is None else 0.0 for v in curves.duty_pct]
    shapes = [
        *_holds(marked, axis),
        *_grid(axis),
        ("duty-area", area(zero, curves.duty_pct, axis)),
        ("duty", line(curves.duty_pct, axis)),
        *_ends(marked),
    ]
    keys = [Key(label="Heater duty", style="duty", values=curves.duty_pct, unit="%", places=0)]
    return Chart(
        name="duty",
        title="Heater duty",
        said=f"Heater duty {spread(curves.duty_pct, curves.duty_pct, 'per cent', 0)}.",
        unit="%",
        ticks=_ticks(axis),
        shapes=shapes,
        keys=keys,
    )


def energy_chart(curves: Curves, marked: Sequence[Mark]) -> Chart | None:
    """What it used so far."""
    if not any(curves.energy_kwh):
        return None
    axis = scale(curves.energy_kwh, least=0.4, floor=0.0)
    shapes = [*_holds(marked, axis), *_grid(axis), ("energy", line(curves.energy_kwh, axis)), *_ends(marked)]
    keys = [Key(label="Energy so far", style="energy", values=curves.energy_kwh, unit="kWh", places=2)]
    return Chart(
        name="energy",
        title="Energy",
        said=f"Energy {spread(curves.energy_kwh, curves.energy_kwh, 'kilowatt hours')}.",
        unit="kWh",
        ticks=_ticks(axis),
        shapes=shapes,
        keys=keys,
    )


def piece_chart(facts: Facts, curves: Curves, piece: PieceVerdict, number_: int, highest_pct: float) -> Chart:
    """Loss of one piece against its target; all pieces have one scale."""
    lost = curves.loss_pct.get(piece.name, [])
    axis = scale([0.0, highest_pct], least=10.0, floor=0.0)
    shapes = [*_grid(axis), ("target", level(piece.target_loss_pct, axis)), ("loss", line(lost, axis))]
    for then in facts.forecasts.get(piece.name, ()):
        if then.finish is not None and (begun := _lost_at(lost, curves.grid.part(then.tick))) is not None:
            shapes.append(("forecast", _way(curves.grid, then.tick, begun, then.finish, piece.target_loss_pct, axis)))
    weighed = [
        (curves.grid.share(w.tick), 100.0 * (1.0 - w.weight_g / piece.green_g))
        for w in facts.weigh_ins
        if w.piece == piece.name and w.weight_g is not None
    ]
    if weighed:
        shapes.append(("weighed", dots(weighed, axis)))
    row = next(p for p in facts.pieces if p.name == piece.name)
    if row.reached_tick is not None:
        crossed = row.reached_tick if row.crossed_s is None else row.crossed_s / facts.run.period_s
        shapes.append(("reached", dots([(curves.grid.share(crossed), piece.target_loss_pct)], axis)))
    said = f"{piece.name} lost {number(piece.loss_pct, 1)} per cent; target {piece.target_loss_pct:g} per cent; {piece.outcome}."
    return Chart(
        name=f"piece-{number_}", title=piece.name, said=said, unit="%", ticks=_ticks(axis), shapes=shapes, size="small",
        keys=[Key(label="lost", style="loss", values=lost, unit="%")],
    )  # fmt: skip


def _lost_at(lost: Values, part: int) -> float | None:
    return lost[part] if part < len(lost) else None


def _way(grid: Grid, tick: float, lost: float, finish: float, target: float, axis: Scale) -> str:
    """Return the straight way from what was lost to the target as it was foretold, as far as the run goes."""
    if finish > grid.last:
        target, finish = lost + (target - lost) * (grid.last - tick) / (finish - tick), grid.last
    return f"M{WIDE * grid.share(tick):.1f} {axis.y(lost):g}L{WIDE * grid.share(finish):.1f} {axis.y(target):g}"


def hold_said(marked: Sequence[Mark], hours: float) -> str:
    """Return how long the run was held, in words; empty when it never was."""
    held = sum(m.to - m.at for m in marked if m.kind == "hold") * hours
    return f"Held for {length(held * 60.0)} (hatched)." if held > 0.0 else ""


def _grid(axis: Scale) -> list[tuple[str, str]]:
    return [("grid", "".join(level(t, axis) for t in axis.ticks))]


def _ticks(axis: Scale) -> list[tuple[float, str]]:
    return [(axis.y(t) * 100.0 / HIGH, f"{t:g}") for t in axis.ticks]


def _holds(marked: Sequence[Mark], axis: Scale) -> list[tuple[str, str]]:
    return [("hold", box(m.at, m.to, axis.low, axis.high, axis)) for m in marked if m.kind == "hold"]


def _ends(marked: Sequence[Mark]) -> list[tuple[str, str]]:
    return [("end", upright(1.0)) for m in marked if m.kind == "end"]
