"""Figures checked by range, with the likely mix-up of units named. All mistakes are collected, then told at once."""

from __future__ import annotations

from collections.abc import Iterable


class BadFigures(ValueError):
    """Figures that cannot be; ``mistakes`` holds one sentence for each: thing, value, limit, cure."""

    def __init__(self, mistakes: Iterable[str]) -> None:
        self.mistakes = tuple(mistakes)
        super().__init__("\n  ".join(self.mistakes))


def outside(thing: str, value: float, unit: str, *, low: float, high: float, cure: str = "") -> str | None:
    """Say what is wrong with a figure outside ``low..high`` (or not a number); None when it is inside."""
    if low <= value <= high:
        return None
    said = f"{thing} is {value:g}{_after(unit)}; it must lie between {low:g} and {high:g}{_after(unit)}"
    return f"{said}. {cure}" if cure else said


def not_above_zero(thing: str, value: float, unit: str, *, high: float, cure: str = "") -> str | None:
    """As ``outside``, for a figure that must be more than nothing."""
    if 0.0 < value <= high:
        return None
    said = f"{thing} is {value:g} {unit}; it must be above 0 and at most {high:g} {unit}"
    return f"{said}. {cure}" if cure else said


def _after(unit: str) -> str:
    return f" {unit}" if unit else ""


def refuse(*mistakes: str | None) -> None:
    """Raise BadFigures with every mistake that is one."""
    if found := [mistake for mistake in mistakes if mistake]:
        raise BadFigures(found)


def celsius_mix_up(value_c: float, *, high_c: float) -> str:
    """Name the likely cause of a temperature above ``high_c``: degrees Fahrenheit typed as Celsius."""
    as_c = (value_c - 32.0) / 1.8
    return f"If that was degF, it is {as_c:.1f} degC" if value_c > high_c and as_c <= high_c else ""


def fraction_mix_up(value_pct: float, *, low_pct: float) -> str:
    """Name the likely cause of a share below ``low_pct``: a fraction typed as per cent."""
    return (
        f"If that was a fraction, write {value_pct * 100:g}" if 0.0 < value_pct < low_pct and value_pct <= 1.0 else ""
    )
