"""One reading of the annotations gives type, range, words and default of every option."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Annotated, Any, Literal

import pytest
from annotated_types import Ge, Gt, Interval, Le, Lt, MaxLen, MinLen, MultipleOf, doc

from dryward.core.units import Name
from dryward.settings.layout import KINDS, NAMED, OWN, PARTS, Chamber, Piece, Program
from dryward.settings.options import NAME_LIMIT, options


@dataclass(frozen=True, slots=True, kw_only=True)
class Inner:
    deep: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Outer:
    name: Name
    plain: float
    closed: Annotated[float | None, Ge(1.0), Le(2.5), doc("How it is chosen.")] = None
    opened: Annotated[int, Gt(0), Lt(10)] = 3
    above: Annotated[float, Gt(0.5)] = 1.0
    both: Annotated[int, Interval(ge=1, le=4)] = 2
    word: Annotated[str, MinLen(1), MaxLen(9)] = "x"
    line: Annotated[str, MaxLen(9)] = ""
    choice: Literal["a", "b"] | None = None
    inner: Inner = field(default_factory=Inner)
    many: Annotated[tuple[Inner, ...], MinLen(1), MaxLen(3)] = (Inner(),)
    words: tuple[str, ...] = ()
    free: dict[str, Any] | None = None


@pytest.mark.parametrize(
    ("key", "limit"),
    [
        ("name", NAME_LIMIT),
        ("plain", "a number"),
        ("closed", "a number from 1 to 2.5"),
        ("opened", "a whole number above 0, below 10"),
        ("above", "a number above 0.5"),
        ("both", "a whole number from 1 to 4"),
        ("word", "text in quotes, 1 to 9 characters"),
        ("line", "text in quotes, at most 9 characters"),
        ("choice", "one of: a, b"),
        ("inner", "a table"),
        ("many", "a list in [ ], each a table"),
        ("words", "a list in [ ], each text in quotes"),
        ("free", "a table"),
    ],
)
def test_the_limit_of_an_option_is_told_in_words(key: str, limit: str) -> None:
    assert options(Outer)[key].limit == limit


def test_words_defaults_and_inner_tables_are_found() -> None:
    found = options(Outer)
    assert found["closed"].words == "How it is chosen."
    assert found["name"].required
    assert not found["closed"].required
    assert found["closed"].default is None
    assert found["inner"].default == Inner()
    assert found["inner"].table is Inner
    assert found["many"].table is Inner
    assert found["plain"].table is None
    assert found["free"].table is None


@pytest.mark.parametrize(
    ("key", "value", "inside"),
    [
        ("closed", 1.0, True),
        ("closed", 2.6, False),
        ("closed", 0.9, False),
        ("opened", 0, False),
        ("opened", 10, False),
        ("plain", -1e9, True),
    ],
)
def test_the_range_is_known(key: str, value: float, inside: bool) -> None:
    assert options(Outer)[key].allows(value) is inside


def test_an_annotation_without_words_is_refused_rather_than_left_untold() -> None:
    @dataclass(frozen=True, slots=True, kw_only=True)
    class Odd:
        even: Annotated[int, MultipleOf(2)] = 2

    Odd.__annotations__["even"] = Annotated[int, MultipleOf(2)]
    with pytest.raises(TypeError, match="no words"):
        options(Odd)


def _every_table(cls: type) -> list[type]:
    return [cls] + [t for o in options(cls).values() if o.table for t in _every_table(o.table)]


def test_every_option_says_how_its_value_is_chosen() -> None:
    tables = {
        t
        for cls in (Chamber, Program, Piece, *NAMED.values(), *PARTS.values(), *OWN.values(), *KINDS.values())
        for t in _every_table(cls)
    }
    silent = {
        f"{t.__name__}.{key}"
        for t in tables
        for key, option in options(t).items()
        if not option.words and option.table is None and key not in ("name", "kind")
    }
    assert silent == set()
