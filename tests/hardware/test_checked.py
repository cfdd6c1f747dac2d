"""Options from a mapping: defaults, nesting, and every mistake named at once with its place, limit and cure."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Annotated, Literal

import pytest
from annotated_types import Ge, Gt, Le, Lt, MaxLen, MinLen

from dryward_hardware.checked import checked
from dryward_hardware.ports import DeviceError


@dataclass(frozen=True, slots=True, kw_only=True)
class Inner:
    size_mm: Annotated[float, Gt(0.0), Lt(10.0)] = 1.0
    low: int = 0
    high: int = 1

    def __post_init__(self) -> None:
        if self.low >= self.high:
            raise ValueError(f"low {self.low} is not below high {self.high}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Outer:
    name: Annotated[str, MinLen(1), MaxLen(4)]
    mode: Literal["a", "b"] = "a"
    count: Annotated[int, Ge(0), Le(9)] = 3
    fast: bool = False
    start_c: Annotated[float | None, Ge(-30.0)] = None
    hooks: tuple[str, ...] = ()
    map: dict[str, str] = field(default_factory=dict)
    inner: Inner = field(default_factory=Inner)
    more: tuple[Inner, ...] = ()


def told(**given: object) -> str:
    with pytest.raises(DeviceError) as caught:
        checked(Outer, "sim", given)
    assert caught.value.device == "sim"
    return str(caught.value)


def test_what_is_left_out_keeps_its_default_and_whole_numbers_pass_for_numbers() -> None:
    made = checked(
        Outer,
        "sim",
        {
            "name": "x",
            "start_c": 20,
            "hooks": ["h1"],
            "map": {"a": "b"},
            "inner": {"size_mm": 2},
            "more": [{}, {"low": -1}],
        },
    )
    assert made == Outer(
        name="x", start_c=20.0, hooks=("h1",), map={"a": "b"}, inner=Inner(size_mm=2.0), more=(Inner(), Inner(low=-1))
    )
    assert isinstance(made.start_c, float)


def test_all_mistakes_are_named_at_once() -> None:
    text = told(
        name="",
        mode="c",
        count=10,
        fast=1,
        start_c="warm",
        hooks="h1",
        map=[1],
        inner={"size_mm": 10.0, "size_m": 3},
        more=[{"low": 2}],
        nmae="y",
    )
    for part in (
        "nmae is no option; did you mean name?",
        "name is '', at least 1 needed",
        "mode is 'c'; use one of a, b",
        "count is 10, the most is 9",
        "fast is 1; it must be true or false",
        "start_c is 'warm'; it must be a number",
        "hooks is 'h1'; it must be a list",
        "map is [1]; it must be a table",
        "inner.size_mm is 10.0, it must be below 10.0",
        "inner.size_m is no option; did you mean size_mm?",
        "more[0]: low 2 is not below high 1",
    ):
        assert part in text


@pytest.mark.parametrize(
    ("given", "part"),
    [
        ({}, "name is missing"),
        ({"name": "abcde"}, "at most 4 allowed"),
        ({"name": 7}, "it must be a text in quotes"),
        ({"name": "x", "count": -1}, "the least is 0"),
        ({"name": "x", "count": 1.5}, "it must be a whole number"),
        ({"name": "x", "count": True}, "it must be a whole number"),
        ({"name": "x", "start_c": float("nan")}, "it must be a number"),
        ({"name": "x", "start_c": float("inf")}, "it must be a number"),
        ({"name": "x", "inner": {"size_mm": 0}}, "it must be above 0.0"),
        ({"name": "x", "inner": 3}, "it must be a table of options"),
        ({"name": "x", "zzz": 3}, "known here: count, fast"),
    ],
)
def test_each_kind_of_mistake_says_what_is_allowed(given: dict[str, object], part: str) -> None:
    assert part in told(**given)


def test_a_ready_dataclass_passes_as_it_is() -> None:
    inner = Inner(size_mm=3.0)
    assert checked(Outer, "sim", {"name": "x", "inner": inner, "start_c": None}).inner is inner
