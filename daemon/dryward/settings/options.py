"""What an option is, found in the annotations of the dataclasses: type, range, default and the words of ``doc(...)``.

One reading of the annotations serves the wording of mistakes, the JSON Schemas, the option tables and the starter files.
"""

from __future__ import annotations

import types
from collections.abc import Iterator
from dataclasses import MISSING, dataclass, fields, is_dataclass
from functools import cache
from typing import Annotated, Any, Literal, Union, get_args, get_origin, get_type_hints

from annotated_types import BaseMetadata, DocInfo, Ge, GroupedMetadata, Gt, Le, Lt, MaxLen, MinLen, Predicate

from dryward.core.units import is_name

NAME_PATTERN = "^[a-z0-9][a-z0-9-]{0,31}$"
NAME_LIMIT = "1 to 32 lower-case letters, digits and hyphens, beginning with a letter or a digit"
_TYPE_WORDS: dict[object, str] = {
    float: "a number",
    int: "a whole number",
    str: "text in quotes",
    bool: "true or false",
    dict: "a table",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """One field of a settings dataclass.

    ``kind`` is float, int, str, bool, a dataclass (a table of its own) or dict (a table whose options are checked elsewhere);
    ``many`` a list of them, which ``low`` and ``high`` then count.
    """

    key: str
    kind: Any
    words: str = ""
    default: object = MISSING
    choices: tuple[str, ...] = ()
    low: float | None = None
    low_open: bool = False
    high: float | None = None
    high_open: bool = False
    many: bool = False
    is_name: bool = False

    @property
    def required(self) -> bool:
        return self.default is MISSING

    @property
    def table(self) -> type | None:
        """The dataclass of a nested table, or None for a plain value."""
        return self.kind if is_dataclass(self.kind) and isinstance(self.kind, type) else None

    def allows(self, value: float) -> bool:
        """Tell whether a number lies inside the range."""
        above = self.low is None or (value > self.low if self.low_open else value >= self.low)
        below = self.high is None or (value < self.high if self.high_open else value <= self.high)
        return above and below

    @property
    def limit(self) -> str:
        """What may stand here, in words."""
        if self.choices:
            return "one of: " + ", ".join(self.choices)
        if self.is_name:
            return NAME_LIMIT
        words = "a table" if self.table else _TYPE_WORDS[self.kind]
        if self.kind is str and self.high:
            words += (
                f", {self.low:g} to {self.high:g} characters" if self.low else f", at most {self.high:g} characters"
            )
        if self.many:
            return f"a list in [ ], each {words}"
        return words + self._range() if self.kind in (int, float) else words

    def _range(self) -> str:
        if self.low is not None and self.high is not None and not (self.low_open or self.high_open):
            return f" from {_plain(self.low)} to {_plain(self.high)}"
        low = "" if self.low is None else f"{'above' if self.low_open else 'at least'} {_plain(self.low)}"
        high = "" if self.high is None else f"{'below' if self.high_open else 'at most'} {_plain(self.high)}"
        return " " + ", ".join(part for part in (low, high) if part) if low or high else ""


def _plain(value: float) -> str:
    return f"{value:.12g}"


@cache
def options(cls: type) -> dict[str, Option]:
    """List the options of a settings dataclass by key, in their order."""
    hints = get_type_hints(cls, include_extras=True)
    found = {}
    for field in fields(cls):
        default = field.default
        if default is MISSING and field.default_factory is not MISSING:
            default = field.default_factory()
        found[field.name] = Option(key=field.name, default=default, **_traits(hints[field.name]))
    return found


def _traits(hint: Any) -> dict[str, Any]:
    """Unwrap Annotated, ``X | None`` and ``tuple[X, ...]`` down to the plain type and gather what they carry."""
    origin, args = get_origin(hint), get_args(hint)
    if origin is Annotated:
        traits = _traits(args[0])
        for note in _flat(args[1:]):
            traits.update(_trait(note))
        return traits
    if origin in (Union, types.UnionType):
        return _traits(next(a for a in args if a is not type(None)))
    if origin is Literal:
        return {"kind": str, "choices": args}
    if origin is tuple:
        return _traits(args[0]) | {"many": True}
    return {"kind": dict if origin is dict else hint}


def _flat(notes: tuple[object, ...]) -> Iterator[object]:
    for note in notes:
        yield from note if isinstance(note, GroupedMetadata) else (note,)


def _trait(note: object) -> dict[str, Any]:
    match note:
        case DocInfo(documentation=words):
            return {"words": words}
        case Ge(ge=low):
            return {"low": low}
        case Gt(gt=low):
            return {"low": low, "low_open": True}
        case Le(le=high):
            return {"high": high}
        case Lt(lt=high):
            return {"high": high, "high_open": True}
        case MinLen(min_length=low):
            return {"low": low}
        case MaxLen(max_length=high):
            return {"high": high}
        case Predicate(func=func) if func is is_name:
            return {"is_name": True}
        case BaseMetadata():
            raise TypeError(f"no words for the annotation {note!r}")
    return {}
