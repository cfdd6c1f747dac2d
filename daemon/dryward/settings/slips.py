"""The likely slip behind a wrong value: quotes round a number, a comma, degF for degC, a fraction for per cent."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from dryward.settings.mistakes import meant, nearest, shown
from dryward.settings.options import NAME_LIMIT, Option

# What the ending of a key says of its unit, and how people write that unit; the longest ending first.
_UNITS = (
    ("_k_per_h", "K per hour", ("k/h",)),
    ("_pct", "%", ("%", "pct", "percent")),
    ("_min", "minutes", ("min", "minutes")),
    ("_ohm", "ohm", ("ohm",)),
    ("_pa", "Pa", ("pa",)),
    ("_mm", "mm", ("mm",)),
    ("_c", "degC", ("c", "degc", "°c")),
    ("_h", "hours", ("h", "hr", "hrs", "hour", "hours")),
    ("_k", "K", ("k",)),
    ("_s", "seconds", ("s", "sec", "seconds")),
    ("_g", "g", ("g", "gram", "grams")),
    ("_w", "W", ("w", "watt")),
)


def slip(option: Option, value: object) -> str:
    """Name the likely slip and the line to write instead; empty where none is likely."""
    if isinstance(value, Mapping | list):
        return ""
    if option.choices:
        return meant(str(value), option.choices)
    if option.kind is bool:
        bare = str(value).lower() if isinstance(value, str) else ""
        return f"Take the quotes away: {option.key} = {bare}." if bare in ("true", "false") else "Write true or false."
    if option.kind is str:
        return _text_slip(option, value)
    if isinstance(value, str):
        number = _number_in(option.key, value)
        if number:
            return f"Take the quotes away: {option.key} = {number}."
        unit = unit_of(option.key)
        return f"Write a plain number{f' in {unit}' if unit else ''}, without unit or quotes."
    if isinstance(value, bool):
        return "Write a number."
    if option.kind is int and isinstance(value, float):
        return f"Write it without a decimal point: {value:.0f}." if value.is_integer() else "Write a whole number."
    if isinstance(value, int | float):
        return _unit_slip(option, float(value))
    return ""


def _text_slip(option: Option, value: object) -> str:
    if not isinstance(value, str):
        return f'Put it in quotes: {option.key} = "{shown(value)}".'
    if option.is_name:
        better = re.sub(r"[^a-z0-9]+", "-", value.lower())[:32].strip("-")
        return f'Write it as "{better}".' if better else f"A name is {NAME_LIMIT}."
    return ""


def unit_of(key: str) -> str:
    """Name the unit that the ending of a key stands for; empty where it names none."""
    return next((unit for ending, unit, _ in _UNITS if key.endswith(ending)), "")


def mind_the_unit(key: str, known: Iterable[str]) -> str:
    """Say in which unit the option is that was probably meant, where ``key`` (``dwell_d``) names another one or none."""
    near = nearest(key, known)
    ending = next((e for e, _, _ in _UNITS if near and near.endswith(e)), "")
    return f" Its unit is {unit_of(near)}." if near and ending and not key.endswith(ending) else ""


def _number_in(key: str, text: str) -> str | None:
    """Return the number in a text with its key's unit or a decimal comma (``"70,5 C"`` -> ``70.5``), if there is one."""
    match = re.fullmatch(r"\s*([-+]?\d+(?:[.,]\d+)?)\s*([%a-zA-Z°/]*)\s*", text)
    own = next((names for ending, _, names in _UNITS if key.endswith(ending)), None)
    if match is None or (match[2] and own is not None and match[2].lower() not in own):
        return None
    return match[1].replace(",", ".")


def _unit_slip(option: Option, value: float) -> str:
    """Recognise a number in another unit than its key says."""
    for ending, unit, converted in (
        ("_c", "degF", round((value - 32.0) / 1.8, 1)),
        ("_pct", "a fraction", value * 100.0),
        ("salt_pct", "g per kg", value / 10.0),
        ("_pa", "hPa", value * 100.0),
        ("_g", "kg", value * 1000.0),
    ):
        if option.key.endswith(ending) and _plausible(unit, value) and option.allows(converted):
            return f"{value:g} looks like {unit}: write {converted:g}."
    return ""


def _plausible(unit: str, value: float) -> bool:
    return (0.0 < value < 1.0) if unit == "a fraction" else value > 0.0
