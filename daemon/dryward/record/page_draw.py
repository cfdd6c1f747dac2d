"""Lines, areas and axes as SVG. The plane is 1000 wide and 100 high and stretched to its place; words are not drawn in it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from dryward.record.page_curves import Values

WIDE, HIGH = 1000.0, 100.0
HOUR_STEPS = (1 / 12, 1 / 6, 0.25, 0.5, 1, 2, 3, 6, 12, 24, 48, 120, 240, 480, 960)
MOST_LABELS = 7


@dataclass(frozen=True, slots=True)
class Scale:
    """From ``low`` at the bottom to ``high`` at the top, with labelled ticks between."""

    low: float
    high: float
    ticks: tuple[float, ...]

    def y(self, value: float) -> float:
        """Return the place of a value, 0 at the top; a value outside lies on the edge."""
        return round(HIGH * (1.0 - (min(self.high, max(self.low, value)) - self.low) / (self.high - self.low)), 2)


def scale(
    *rows: Values,
    least: float,
    parts: int = 4,
    floor: float | None = None,
    ceiling: float | None = None,
    bottom: float = float("-inf"),
) -> Scale:
    """Return a scale of round numbers around all values, at least ``least`` from end to end and never below ``bottom``."""
    values = [v for row in rows for v in row if v is not None] or [0.0]
    low, high = min(values), max(values)
    if high - low < least:
        middle = (low + high) / 2.0
        low, high = middle - least / 2.0, middle + least / 2.0
    if low < bottom:
        low, high = bottom, high + bottom - low
    low, high = (low if floor is None else floor), (high if ceiling is None else max(ceiling, high))
    step = _round_step((high - low) / parts)
    first, last = int(low // step), int(-(-high // step))
    ticks = tuple(round(n * step, 6) for n in range(first, last + 1))
    return Scale(ticks[0], ticks[-1], ticks)


def _round_step(wanted: float) -> float:
    power = 1.0
    while wanted >= 10.0 * power:
        power *= 10.0
    while wanted < power:
        power /= 10.0
    return next((power * n for n in (1.0, 2.0, 2.5, 5.0) if power * n >= wanted * 0.999), power * 10.0)


def hour_ticks(hours: float) -> list[tuple[float, str]]:
    """Return (share of the run, label) for its time axis."""
    step = next((s for s in HOUR_STEPS if hours / s <= MOST_LABELS), HOUR_STEPS[-1])
    count = int(hours / step + 1e-9)
    return [(n * step / hours, _elapsed(n * step, step)) for n in range(count + 1)] if hours > 0.0 else []


def _elapsed(hours: float, step: float) -> str:
    if hours == 0.0:
        return "0"
    if step < 1.0:
        return f"{hours * 60.0:.0f} min"
    return f"{hours / 24.0:.0f} d" if step >= 24.0 else f"{hours:.0f} h"


def line(values: Values, axis: Scale) -> str:
    """Return the path of a line that breaks where nothing was measured."""
    return "".join(
        "M" + "L".join(f"{at:g} {axis.y(value):g}" for at, value in stretch) + ("h0" if len(stretch) == 1 else "")
        for stretch in _stretches(values)
    )


def staircase(values: Values, axis: Scale) -> str:
    """Return the path of a value that holds until it changes."""
    half = WIDE / (2 * max(1, len(values)))
    found: list[str] = []
    held: float | None = None
    for at, value in _places(values):
        if value is not None and held is None:
            found.append(f"M{at - half:g} {axis.y(value):g}")
        elif value is not None and value != held:
            found.append(f"H{at - half:g}V{axis.y(value):g}")
        elif value is None and held is not None:
            found.append(f"H{at - half:g}")
        held = value
    return "".join(found) + (f"H{WIDE:g}" if held is not None else "")


def area(low: Values, high: Values, axis: Scale) -> str:
    """Return the outline between two rows of values."""
    found = []
    bottoms = _stretches(low)
    for top, bottom in zip(_stretches(high), bottoms, strict=True):
        around = [*top, *reversed(bottom)]
        found.append("M" + "L".join(f"{at:g} {axis.y(value):g}" for at, value in around) + "Z")
    return "".join(found)


def box(left: float, right: float, low: float, high: float, axis: Scale) -> str:
    """Return a rectangle: shares of the run from side to side, values from bottom to top."""
    return f"M{WIDE * left:.1f} {axis.y(high):g}H{WIDE * right:.1f}V{axis.y(low):g}H{WIDE * left:.1f}Z"


def level(value: float, axis: Scale) -> str:
    """Return a line straight across."""
    return f"M0 {axis.y(value):g}H{WIDE:g}"


def upright(share: float) -> str:
    """Return a line from top to bottom at a share of the run."""
    return f"M{WIDE * share:.1f} 0V{HIGH:g}"


def dots(places: Sequence[tuple[float, float]], axis: Scale) -> str:
    """Return points (share of the run, value); they are round when drawn with a round, unscaled stroke."""
    return "".join(f"M{WIDE * share:.1f} {axis.y(value):g}h0" for share, value in places)


def _places(values: Values) -> list[tuple[float, float | None]]:
    count = max(1, len(values))
    return [(round(WIDE * (n + 0.5) / count, 1), value) for n, value in enumerate(values)]


def _stretches(values: Values) -> Iterator[list[tuple[float, float]]]:
    stretch: list[tuple[float, float]] = []
    for at, value in _places(values):
        if value is None:
            if stretch:
                yield stretch
            stretch = []
        else:
            stretch.append((at, value))
    if stretch:
        yield stretch
