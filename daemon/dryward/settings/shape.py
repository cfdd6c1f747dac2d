"""Plain tables -> dataclasses: shape only. Pydantic judges, we put its judgement into our own words."""

from __future__ import annotations

import json
from collections.abc import Mapping
from copy import deepcopy
from dataclasses import replace
from functools import cache
from typing import Any, TypeVar

from pydantic import ConfigDict, TypeAdapter, ValidationError

from dryward.settings.mistakes import NOTHING, Findings, meant, shown
from dryward.settings.options import Option, options
from dryward.settings.slips import mind_the_unit, slip

T = TypeVar("T")
Table = dict[str, Any]
# Handed down by pydantic to every plain dataclass inside. Strict: a number in quotes is a mistake, not a number.
RULES = ConfigDict(strict=True, extra="forbid", allow_inf_nan=False)


@cache
def _adapter(cls: type) -> TypeAdapter[list[Any]]:
    return TypeAdapter(list[cls], config=RULES)  # type: ignore[valid-type]


def build(cls: type[T], table: object, *, place: str, found: Findings) -> T | None:
    """Make one dataclass from a table, noting its mistakes under ``place``.

    A mistaken option is then left at its default, so that the others can still be checked against each other; None
    where that cannot be done.
    """
    if not isinstance(table, Mapping):
        cure = f"Begin a table with a line [{place}] and put its options below it."
        found.add(place, table, limit="a table", cure=cure)
        return None
    try:
        return _made(cls, table)
    except ValidationError as error:
        wrong = error.errors(include_url=False, include_context=False)
    for mistake in wrong:
        _tell(cls, table, mistake["type"], mistake["loc"][1:], place=place, found=found)
    try:
        return _made(cls, _without(table, [mistake["loc"][1:] for mistake in wrong]))
    except ValidationError:
        return None


def _made(cls: type[T], table: Mapping[str, Any]) -> T:
    hashable: type = cls
    made: T = _adapter(hashable).validate_json(json.dumps([table], default=str))[0]
    return made


def _without(table: Mapping[str, Any], locs: list[tuple[int | str, ...]]) -> Mapping[str, Any]:
    """Copy a table without the options at these places."""
    copy = deepcopy(dict(table))
    for *above, last in locs:
        inner: Any = copy
        for part in above:
            inner = inner.get(part, {}) if isinstance(inner, dict) else {}
        if isinstance(inner, dict):
            inner.pop(last, None)
    return copy


def _tell(cls: type, table: Any, kind: str, loc: tuple[int | str, ...], *, place: str, found: Findings) -> None:
    """Put one of pydantic's mistakes into our words, from what the options say of themselves."""
    here: type = cls
    option: Option | None = None
    value = inside = table
    for part in loc:
        inside = value
        if isinstance(part, str) and not (option and option.kind is dict):
            option = options(here).get(part)
        here = option.table if option and option.table else here
        place = f"{place}.{part + 1 if isinstance(part, int) else part}" if place else str(part)
        if isinstance(value, Mapping):
            value = value.get(part, NOTHING)
        elif isinstance(value, list) and isinstance(part, int) and part < len(value):
            value = value[part]
    if kind == "missing" and option:
        found.add(place, NOTHING, limit=f"needed: {option.limit}", cure=_add_line(option))
    elif option is None:
        known = [key for key in options(here) if key not in inside]
        cure = meant(str(loc[-1]), known) + mind_the_unit(str(loc[-1]), known)
        found.add(place, value, limit="no such option", cure=cure)
    else:
        alone = option.many and isinstance(loc[-1], str) and isinstance(value, str)
        slipped = f"Write it in brackets: {option.key} = [{shown(value)}]." if alone else slip(option, value)
        cure = f"{slipped} {option.words}".strip() or f"Write {option.limit}."
        found.add(place, value, limit=option.limit, cure=cure)


def _add_line(option: Option) -> str:
    if option.table is not None:
        return f"Add it. {option.words}".strip()
    return f"Add a line '{option.key} = ...'. {option.words}".strip()


def tables(raw: Table, key: str, *, found: Findings) -> dict[str, Any]:
    """Return the tables keyed by name under ``[key.NAME]``."""
    inner = raw.get(key, {})
    if isinstance(inner, Mapping):
        return dict(inner)
    cure = f"Write a line [{key}.NAME] before its options; not {key} = ..."
    found.add(key, inner, limit=f"tables named [{key}.NAME]", cure=cure)
    return {}


def named(cls: type[T], table: object, *, name: str, place: str, found: Findings) -> T | None:
    """Make one dataclass from a table keyed by its name."""
    own_name = isinstance(table, Mapping) and "name" in table
    if isinstance(table, Mapping) and own_name:
        cure = f"The name is '{name}' already, by its line [{place}]: take this one out."
        found.add(f"{place}.name", table["name"], limit="no such option", cure=cure)
        table = {k: v for k, v in table.items() if k != "name"}
    made = build(cls, {**table, "name": name} if isinstance(table, Mapping) else table, place=place, found=found)
    if f"{place}.name" in found.mistakes and not own_name:
        wrong = found.mistakes.pop(f"{place}.name")
        found.mistakes[place] = replace(wrong, key=place)  # the name stands in the table's own line
    return made


def build_list(cls: type[T], raw: Table, key: str, *, found: Findings) -> dict[str, T]:
    """Make a dataclass of every [[key]] table that can be; keyed by its place (``steps.dry``), the others noted."""
    inner = raw.get(key, NOTHING)
    if not isinstance(inner, list) or not inner:
        cure = f"Begin each with a line [[{key}]], in double brackets."
        found.add(key, inner, limit=f"at least one table [[{key}]]", cure=cure)
        return {}
    made: dict[str, T] = {}
    seen: list[str] = []
    for number, table in enumerate(inner, 1):
        place = f"{key}.{number}"
        if not isinstance(table, Mapping):
            cure = f"Begin each with a line [[{key}]], in double brackets, and put its options below it."
            found.add(place, table, limit="a table", cure=cure)
            continue
        name = table.get("name")
        if isinstance(name, str) and name in seen:
            cure = f"Rename one of the two called '{name}'."
            found.add(f"{place}.name", name, limit="a name that stands only once", cure=cure)
        elif isinstance(name, str) and name:
            place = f"{key}.{name}"
            seen.append(name)
        value = build(cls, table, place=place, found=found)
        if value is not None:
            made[place] = value
    return made
