"""A comparison as plain aligned text: what differed is marked, the curves lie over each other."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from dryward.record.compare import COLUMNS, Compared
from dryward.record.page_draw import scale

ROWS = 12
LETTERS = "abcdefghijklmnopqrstuvwxyz"


def as_text(runs: Sequence[Compared]) -> str:
    """Return the runs side by side, one column each, with ``*`` before every line in which they differ."""
    lines = ["  " + "  ".join(f"{letter} {r.run_id}" for letter, r in zip(LETTERS, runs, strict=False)), ""]
    lines += _table(runs)
    lines += ["", *_programs(runs), "", *_rates(runs)]
    plotted = overlay(runs)
    if plotted:
        lines += ["", "Loss of the whole load, per cent of its green weight, over hours", plotted]
    return "\n".join(line.rstrip() for line in lines) + "\n"


def overlay(runs: Sequence[Compared]) -> str:
    """Draw the loss of each load over the same hours, one letter a run, ``#`` where they meet; empty when nothing was weighed."""
    longest = max((r.hours for r in runs), default=0.0)
    if longest <= 0.0 or not any(v is not None for r in runs for v in r.loss_pct):
        return ""
    axis = scale(*(r.loss_pct for r in runs), least=10.0, floor=0.0)
    grid = [[" "] * COLUMNS for _ in range(ROWS)]
    for letter, run in zip(LETTERS, runs, strict=False):
        for n, value in enumerate(run.loss_pct):
            if value is None:
                continue
            column = min(COLUMNS - 1, int((n + 0.5) / len(run.loss_pct) * run.hours / longest * COLUMNS))
            row = round(axis.y(value) / 100.0 * (ROWS - 1))
            grid[row][column] = letter if grid[row][column] in (" ", letter) else "#"
    step = (axis.high - axis.low) / (ROWS - 1)
    drawn = [f"{axis.high - n * step:6.1f} |{''.join(cells)}" for n, cells in enumerate(grid)]
    drawn.append(" " * 7 + "+" + "-" * COLUMNS)
    drawn.append(f"{'h':>6}  0{longest / 2:>{COLUMNS // 2 - 1}.0f}{longest:>{COLUMNS // 2}.0f}")
    return "\n".join(drawn)


def _table(runs: Sequence[Compared]) -> list[str]:
    wanted: list[tuple[str, Callable[[Compared], str]]] = [
        ("verdict", lambda r: r.verdict),
        ("program", lambda r: r.program),
        ("hours", lambda r: f"{r.hours:.1f}"),
        ("pieces", lambda r: str(r.pieces)),
        ("load, g", lambda r: f"{r.green_g:.0f}"),
        ("air, mean degC", lambda r: _number(r.air_mean_c, 1)),
        ("room, mean degC", lambda r: _number(r.room_mean_c, 1)),
        ("room, mean %RH", lambda r: _number(r.room_rh_mean_pct, 0)),
        ("out of band, min", lambda r: f"{r.out_of_band_min:.0f}"),
        ("energy, kWh", lambda r: _number(r.energy_kwh, 1)),
        ("water lost, g", lambda r: _number(r.water_g, 0)),
        ("kWh per kg water", lambda r: _number(r.kwh_per_kg, 1)),
        ("forecasts off by, h", lambda r: _number(_forecast_off_h(r), 1)),
    ]
    rows = [(name, [of(r) for r in runs]) for name, of in wanted]
    return _aligned([("", list(LETTERS[: len(runs)])), *rows])


def _forecast_off_h(run: Compared) -> float | None:
    """Return by how much the forecasts of a run's pieces missed on average."""
    off = [p.forecast_off_h for p in run.rates if p.forecast_off_h is not None]
    return sum(off) / len(off) if off else None


def _programs(runs: Sequence[Compared]) -> list[str]:
    if len({r.steps for r in runs}) == 1:
        return ["Same program in each:", *(f"    {step}" for step in runs[0].steps)]
    lines = ["* Programs:"]
    for letter, r in zip(LETTERS, runs, strict=False):
        lines += [f"  {letter} {step}" if n == 0 else f"    {step}" for n, step in enumerate(r.steps)]
    return lines


def _rates(runs: Sequence[Compared]) -> list[str]:
    """Give the drying rate of every piece; pieces of one name stand in one line."""
    names = list(dict.fromkeys(p.name for r in runs for p in r.rates))
    by_run = [{p.name: p for p in r.rates} for r in runs]
    rows = []
    for name in names:
        cells = []
        for pieces in by_run:
            p = pieces.get(name)
            cells.append(
                "-" if p is None else f"{_number(p.pct_per_day, 1)} ({_number(p.loss_pct, 1)} % of {p.green_g:.0f} g)"
            )
        rows.append((name, cells))
    return (
        [
            "Drying rate, per cent of the green weight a day (lost in all)",
            *_aligned([("", list(LETTERS[: len(runs)])), *rows]),
        ]
        if rows
        else ["No pieces."]
    )


def _aligned(rows: Sequence[tuple[str, Sequence[str]]]) -> list[str]:
    first = max(len(name) for name, _ in rows)
    widths = [max(len(cells[n]) for _, cells in rows) for n in range(len(rows[0][1]))]
    lines = []
    for place, (name, cells) in enumerate(rows):
        mark = "*" if place and len(set(cells)) > 1 else " "
        lines.append(f"{mark} {name:<{first}}  " + "  ".join(c.rjust(w) for c, w in zip(cells, widths, strict=True)))
    return lines


def _number(value: float | None, places: int) -> str:
    return "-" if value is None else f"{value:.{places}f}"
