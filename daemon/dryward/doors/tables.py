"""Plain aligned text."""

from __future__ import annotations

from collections.abc import Sequence


def table(head: Sequence[str], rows: Sequence[Sequence[str]], *, left: int = 1) -> str:
    """Return rows as aligned columns; the first ``left`` columns to the left, the rest to the right."""
    widths = [max(len(str(row[i])) for row in (head, *rows)) for i in range(len(head))]
    lines = []
    for row in (head, *rows):
        cells = [
            str(c).ljust(w) if i < left else str(c).rjust(w) for i, (c, w) in enumerate(zip(row, widths, strict=True))
        ]
        lines.append("  ".join(cells).rstrip())
    return "\n".join(lines)


def hours(seconds: float | None) -> str:
    """Return a length of time as ``3 d 04:05`` or ``04:05``."""
    if seconds is None:
        return "-"
    minutes = round(seconds / 60.0)
    days, rest = divmod(minutes, 1440)
    clock = f"{rest // 60:02d}:{rest % 60:02d}"
    return f"{days} d {clock}" if days else clock


def grams(value: float | None) -> str:
    return "-" if value is None else f"{value:.0f} g"


def per_cent(value: float | None) -> str:
    return "-" if value is None else f"{value:z.1f} %"  # z: no minus zero
