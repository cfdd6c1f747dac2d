"""Options of a device: a plain mapping, as read from TOML, made into a frozen dataclass with every mistake named at once.

The limits are the ``annotated_types`` in the dataclass itself, so that they are written once and read here, by the
settings and by the documentation.
"""

from __future__ import annotations

import math
import types
from collections.abc import Mapping, Sequence
from dataclasses import MISSING, Field, fields, is_dataclass
from difflib import get_close_matches
from functools import cache
from typing import Annotated, Any, Literal, TypeVar, Union, cast, get_args, get_origin, get_type_hints

from annotated_types import Ge, Gt, Le, Lt, MaxLen, MinLen

from dryward_hardware.ports import DeviceError

T = TypeVar("T")
PLAIN_WORDS: dict[object, str] = {
    bool: "true or false",
    int: "a whole number",
    float: "a number",
    str: "a text in quotes",
}


def checked(options_class: type[T], device: str, given: Mapping[str, object]) -> T:
    """Make ``options_class`` from a mapping; raises DeviceError that names every unknown key, wrong type and wrong value."""
    mistakes: list[str] = []
    made = _dataclass(options_class, given, "", mistakes)
    if mistakes:
        raise DeviceError(device, "; ".join(mistakes))
    return cast(T, made)


@cache
def _hints(options_class: type) -> dict[str, Any]:
    return get_type_hints(options_class, include_extras=True)


def _dataclass(options_class: type, given: Mapping[str, object], place: str, mistakes: list[str]) -> object:
    known: dict[str, Field[Any]] = {field.name: field for field in fields(options_class)}
    for key in given:
        if key not in known:
            near = get_close_matches(str(key), known, n=1)
            cure = f"did you mean {near[0]}?" if near else "known here: " + ", ".join(sorted(known))
            mistakes.append(f"{place}{key} is no option; {cure}")
    values: dict[str, object] = {}
    before = len(mistakes)
    for name, field in known.items():
        if name in given:
            values[name] = _value(_hints(options_class)[name], given[name], place + name, mistakes)
        elif field.default is MISSING and field.default_factory is MISSING:
            mistakes.append(f"{place}{name} is missing; give it a value")
    if len(mistakes) > before:
        return None
    try:
        return options_class(**values)
    except ValueError as wrong:  # a rule between several options, checked by the dataclass itself
        mistakes.append(f"{place.rstrip('.')}: {wrong}" if place else str(wrong))
        return None


def _value(hint: Any, given: object, place: str, mistakes: list[str]) -> object:
    if get_origin(hint) is Annotated:
        bare, *limits = get_args(hint)
        before = len(mistakes)
        value = _value(bare, given, place, mistakes)
        if len(mistakes) == before and value is not None:
            mistakes.extend(f"{place} is {given!r}, {broken}" for broken in _broken(limits, value))
        return value
    if get_origin(hint) in (Union, types.UnionType):
        if given is None and type(None) in get_args(hint):
            return None
        (only,) = (kind for kind in get_args(hint) if kind is not type(None))
        return _value(only, given, place, mistakes)
    if get_origin(hint) is Literal:
        if given not in get_args(hint):
            mistakes.append(f"{place} is {given!r}; use one of {', '.join(map(str, get_args(hint)))}")
        return given
    if get_origin(hint) is tuple:
        return _items(get_args(hint)[0], given, place, mistakes)
    if get_origin(hint) is dict or get_origin(hint) is Mapping:
        return _table(get_args(hint)[1], given, place, mistakes)
    if is_dataclass(hint):
        if isinstance(given, cast(type, hint)):
            return given
        if not isinstance(given, Mapping):
            mistakes.append(f"{place} is {given!r}; it must be a table of options")
            return None
        return _dataclass(cast(type, hint), given, place + ".", mistakes)
    return _plain(hint, given, place, mistakes)


def _items(hint: Any, given: object, place: str, mistakes: list[str]) -> object:
    if isinstance(given, str) or not isinstance(given, Sequence):
        mistakes.append(f"{place} is {given!r}; it must be a list")
        return None
    return tuple(_value(hint, item, f"{place}[{number}]", mistakes) for number, item in enumerate(given))


def _table(hint: Any, given: object, place: str, mistakes: list[str]) -> object:
    if not isinstance(given, Mapping):
        mistakes.append(f"{place} is {given!r}; it must be a table")
        return None
    return {str(key): _value(hint, item, f"{place}.{key}", mistakes) for key, item in given.items()}


def _plain(hint: Any, given: object, place: str, mistakes: list[str]) -> object:
    if hint is float and isinstance(given, int) and not isinstance(given, bool):
        given = float(given)
    fits = isinstance(given, hint) and (hint is bool or not isinstance(given, bool))
    if not fits or (isinstance(given, float) and not math.isfinite(given)):
        mistakes.append(f"{place} is {given!r}; it must be {PLAIN_WORDS[hint]}")
    return given


def _broken(limits: Sequence[object], value: Any) -> list[str]:
    """Return in words each limit that the value breaks."""
    words: list[str] = []
    for limit in limits:
        match limit:
            case Ge(low) if value < low:
                words.append(f"the least is {low}")
            case Gt(low) if value <= low:
                words.append(f"it must be above {low}")
            case Le(high) if value > high:
                words.append(f"the most is {high}")
            case Lt(high) if value >= high:
                words.append(f"it must be below {high}")
            case MinLen(least) if len(value) < least:
                words.append(f"at least {least} needed")
            case MaxLen(most) if len(value) > most:
                words.append(f"at most {most} allowed")
            case _:
                pass
    return words
