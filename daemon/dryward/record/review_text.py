"""A review as plain aligned text of at most 80 columns, the verdict first."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from datetime import UTC, datetime, tzinfo

from dryward.record.page_words import humane, zone_name
from dryward.record.review import PlotPoint, Review

WIDTH = 80
ROWS = 9


def as_text(review: Review, *, zone: tzinfo | None = UTC) -> str:
    """Return the review as text; times in ``zone`` (None: that of this machine, summer time where it was)."""
    parts = [_verdict(review, zone), _pieces(review, zone), _steps(review, zone)]
    if any(p.mean is not None for p in review.air):
        parts.append("Air, degC\n" + plot(review.air))
    parts += [
        _foretold(review, zone),
        _extremes(review, zone),
        _told(review, zone),
        _figures(review),
        _scales(review),
        _weigh_ins(review, zone),
    ]
    parts += [_known(review), _notes(review, zone)]
    parts.append(
        _wrap(
            "Lost weight alone does not make meat safe: heat, salt, humidity and cooling decide too. Your local food code has the last word."
        )
    )
    return "\n\n".join(part for part in parts if part) + "\n"


def plot(points: Sequence[PlotPoint], *, rows: int = ROWS) -> str:
    """Draw mean air temperature (o), its spread (:) and the setpoint (-) over time; hours below."""
    values = [v for p in points for v in (p.low, p.high, p.setpoint) if v is not None]
    low, high = min(values), max(values)
    if high - low < 4.0:
        low, high = (low + high) / 2.0 - 2.0, (low + high) / 2.0 + 2.0
    step = (high - low) / (rows - 1)
    grid = [[" "] * len(points) for _ in range(rows)]

    def row(value: float) -> int:
        return rows - 1 - round((value - low) / step)

    for column, p in enumerate(points):
        if p.low is not None and p.high is not None:
            for line in range(row(p.high), row(p.low) + 1):
                grid[line][column] = ":"
        if p.setpoint is not None:
            grid[row(p.setpoint)][column] = "-"
        if p.mean is not None:
            grid[row(p.mean)][column] = "o"
    lines = [f"{high - step * number:6.1f} |{''.join(cells).rstrip()}" for number, cells in enumerate(grid)]
    lines.append(" " * 7 + "+" + "-" * len(points))
    hours = points[-1].hours + points[0].hours
    lines.append(f"{'h':>6}  0{hours / 2.0:>{len(points) // 2 - 1}.1f}{hours:>{len(points) - len(points) // 2}.1f}")
    lines.append("        o mean   : lowest to highest   - setpoint")
    return "\n".join(lines)


def _verdict(review: Review, zone: tzinfo | None) -> str:
    lines = [_wrap(review.headline)]
    if review.reason:
        lines.append(_wrap(f"Why it ended: {review.reason.rstrip('.')}."))
    until = (
        f" to {_when(review.ended_utc, zone)}"
        if review.ended_utc
        else f", on record until {_when(review.until_utc, zone)}"
    )
    lines.append(_wrap(f"Run {review.run_id}, program {review.program}, chamber {review.chamber}"))
    lines.append(
        f"{_when(review.started_utc, zone)}{until} ({_hours(review.hours)}), times in {zone_name(review.started_utc, review.until_utc, zone)}"
    )
    lines += [_wrap(f"! {humane(line, zone)}", indent=2) for line in review.attention] or ["Nothing needs attention."]
    return "\n".join(lines)


def _pieces(review: Review, zone: tzinfo | None) -> str:
    rows = [
        (
            p.name, f"{p.green_g:.0f}", f"{p.target_g:.0f}", _number(p.final_g, 0), _number(p.loss_pct, 1), f"{p.target_loss_pct:g}",
            _when(p.finished_utc, zone) if p.finished_utc else p.outcome,
        )
        for p in review.pieces
    ]  # fmt: skip
    return (
        _table(("piece", "green g", "target g", "last g", "loss %", "of %", "finished"), rows, left=(0, 6))
        if rows
        else ""
    )


def _steps(review: Review, zone: tzinfo | None) -> str:
    rows = [
        (
            s.name, _when(s.began_utc, zone), _hours(s.hours), _number(s.air_c, 1), _number(s.mean_c, 1), _minutes(s.reached_min) if s.never_reached or s.reached_min is not None else "-",
            _minutes(s.below_min), _minutes(s.above_min),
        )
        for s in review.steps
    ]  # fmt: skip
    if not rows:
        return ""
    table = _table(("step", "began", "lasted", "set degC", "mean", "reached in", "below", "above"), rows, left=(0, 1))
    return "\n".join(
        [table, *(_wrap(f"{s.name} ended: {s.end_reason}", indent=2) for s in review.steps if s.end_reason)]
    )


def _foretold(review: Review, zone: tzinfo | None) -> str:
    def at(utc: str | None, never: str = "never") -> str:
        return never if utc is None else _when(utc, zone)

    rows = [
        (
            f.piece,
            at(f.made_utc),
            at(f.finish_utc),
            "never" if f.low_utc is None else f"{at(f.low_utc)} to {at(f.high_utc, 'perhaps never')}",
            "" if f.off_h is None else f"{f.off_h:+.1f} h{'' if f.held else ' out'}",
        )
        for f in review.foretold
    ]
    return (
        _table(("piece", "foretold", "ready", "nine times out of ten", "it was"), rows, left=(0, 1, 2, 3))
        if rows
        else ""
    )


def _extremes(review: Review, zone: tzinfo | None) -> str:
    rows = [
        (
            e.channel,
            f"{e.low:.1f}",
            _when(e.low_utc, zone),
            f"{e.high:.1f}",
            _when(e.high_utc, zone),
            f"{e.unit} ({e.role})",
        )
        for e in review.extremes
    ]
    return _table(("sensor", "lowest", "at", "highest", "at", ""), rows, left=(0, 2, 4, 5)) if rows else ""


def _told(review: Review, zone: tzinfo | None) -> str:
    if not review.told:
        return "No warning, alarm or trip."
    return "\n".join(
        _wrap(f"{_when(t.utc, zone)} {t.severity.upper()}: {t.text} {t.advice}".strip(), indent=4) for t in review.told
    )


def _known(review: Review) -> str:
    lines: list[str] = []
    for piece, said in review.known:
        lines.append(f"{piece or 'All pieces'}:")
        lines += [_wrap(line, indent=4) for line in said]
    return "\n".join(lines)


def _notes(review: Review, zone: tzinfo | None) -> str:
    lines = []
    for n in review.notes:
        head = ", ".join(part for part in (_when(n.utc, zone), n.who, n.piece) if part)
        said = " ".join(part for part in (n.text, f"(photo {n.photo})" if n.photo else "") if part)
        lines.append(_wrap(f"{head}: {said}{''.join(f' #{tag}' for tag in n.tags)}", indent=4))
    lines += [_wrap(f"Tags of {piece or 'the run'}: {', '.join(tags)}", indent=4) for piece, tags in review.tags]
    return "\n".join(["Notes", *lines]) if lines else ""


def _figures(review: Review) -> str:
    said = []
    if review.energy_kwh is not None:
        said.append(f"energy {review.energy_kwh:.2f} kWh")
    if review.water_g is not None:
        said.append(f"water lost {_number(review.water_g, 0)} g")
    if review.energy_kwh is not None and review.water_g is not None and review.water_g > 0.0:
        said.append(f"{review.energy_kwh / review.water_g * 1000.0:.1f} kWh per kg of water")
    said += [
        f"{name} switched {'once' if count == 1 else f'{count} times'}" for name, count in review.operations.items()
    ]
    return _wrap("; ".join(said)) if said else ""


def _scales(review: Review) -> str:
    """Say by which calibration each scale weighed: under a newer one its weights can be read anew."""
    said = [
        f"{scale} by {', then '.join(name or 'one without a name' for name in names)}"
        for scale, names in review.scales.items()
    ]
    return _wrap(f"Calibrations: {'; '.join(said)}.") if said else ""


def _weigh_ins(review: Review, zone: tzinfo | None) -> str:
    if not review.weigh_ins:
        return ""
    rows = [(piece, _when(utc, zone), f"{grams:.1f}", who) for utc, piece, grams, who in review.weigh_ins]
    return _table(("piece", "weighed", "g", "by"), rows, left=(0, 1, 3))


# ---- words and columns


def _table(head: Sequence[str], rows: Sequence[Sequence[str]], *, left: Sequence[int]) -> str:
    """Align the columns, those in ``left`` to the left. Should the lines grow too long, the first column is shortened."""
    widths = [max(len(cells[i]) for cells in (head, *rows)) for i in range(len(head))]
    widths[0] = max(6, widths[0] - max(0, sum(widths) + 2 * (len(widths) - 1) - WIDTH))
    lines = []
    for first, *others in (head, *rows):
        cells = [first if len(first) <= widths[0] else first[: widths[0] - 1] + "~", *others]
        lines.append(
            "  ".join(
                c.ljust(w) if i in left else c.rjust(w) for i, (c, w) in enumerate(zip(cells, widths, strict=True))
            ).rstrip()
        )
    return "\n".join(lines)


def _when(utc: str, zone: tzinfo | None) -> str:
    return datetime.fromisoformat(utc.replace("Z", "+00:00")).astimezone(zone).strftime("%d %b %H:%M")


def _hours(hours: float) -> str:
    minutes = round(hours * 60.0)
    return f"{minutes // 60} h {minutes % 60:02d}"


def _minutes(minutes: float | None) -> str:
    return "never" if minutes is None else f"{minutes:.0f} min" if minutes < 600.0 else _hours(minutes / 60.0)


def _number(value: float | None, places: int) -> str:
    return "-" if value is None else f"{round(value, places) + 0.0:.{places}f}"  # no minus zero


def _wrap(text: str, *, indent: int = 0) -> str:
    return textwrap.fill(text, WIDTH, subsequent_indent=" " * indent)
