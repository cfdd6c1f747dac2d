"""The shape of a file: tables that are none, options unknown, missing, of a wrong type or out of range."""

from __future__ import annotations

from dataclasses import MISSING, dataclass, fields
from typing import Annotated, Any, Literal

import pytest
from annotated_types import Ge, Le, doc
from hypothesis import given
from hypothesis import strategies as st

from dryward.core.chamber import Limits, Output
from dryward.core.units import Name
from dryward.settings.mistakes import NOTHING, Findings
from dryward.settings.options import options
from dryward.settings.shape import build, build_list, named, tables


@dataclass(frozen=True, slots=True, kw_only=True)
class Inner:
    deep_c: Annotated[float, Ge(0.0), Le(100.0), doc("Inside.")] = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Thing:
    name: Name
    size_g: Annotated[float, Ge(1.0), Le(100.0), doc("Put it on a scale.")]
    count: Annotated[int, Ge(0), doc("Count them.")] = 0
    ready: Annotated[bool, doc("Look.")] = False
    colour: Annotated[Literal["red", "green"], doc("As you like.")] = "red"
    inner: Inner | None = None


@pytest.fixture
def found() -> Findings:
    return Findings("shed.toml")


def test_a_good_table_becomes_its_dataclass(found: Findings) -> None:
    made = build(Thing, {"name": "a", "size_g": 5, "inner": {"deep_c": 2}}, place="thing", found=found)
    assert made == Thing(name="a", size_g=5.0, inner=Inner(deep_c=2.0))
    assert not found.mistakes


@pytest.mark.parametrize(
    ("table", "key", "value", "limit", "cure"),
    [
        ({"cont": 5}, "thing.cont", "5", "no such option", "Did you mean 'count'?"),
        ({"zzz": 5}, "thing.zzz", "5", "no such option", "Known here: count, ready, colour, inner."),
        ({"size_g": 500}, "thing.size_g", "500", "a number from 1 to 100", "Put it on a scale."),
        (
            {"size_g": "70"},
            "thing.size_g",
            '"70"',
            "a number from 1 to 100",
            "Take the quotes away: size_g = 70. Put it on a scale.",
        ),
        ({"size_g": float("nan")}, "thing.size_g", "nan", "a number from 1 to 100", "Put it on a scale."),
        ({"size_g": float("inf")}, "thing.size_g", "inf", "a number from 1 to 100", "Put it on a scale."),
        ({"size_g": True}, "thing.size_g", "true", "a number from 1 to 100", "Write a number. Put it on a scale."),
        ({"size_g": {"a": 1}}, "thing.size_g", "a table", "a number from 1 to 100", "Put it on a scale."),
        ({"count": 1.5}, "thing.count", "1.5", "a whole number at least 0", "Write a whole number. Count them."),
        ({"ready": "true"}, "thing.ready", '"true"', "true or false", "Take the quotes away: ready = true. Look."),
        ({"ready": 1}, "thing.ready", "1", "true or false", "Write true or false. Look."),
        ({"colour": "rad"}, "thing.colour", '"rad"', "one of: red, green", "Did you mean 'red'? As you like."),
        ({"colour": 3}, "thing.colour", "3", "one of: red, green", "Known here: red, green. As you like."),
        ({"inner": 3}, "thing.inner", "3", "a table", "Write a table."),
        (
            {"inner": {"deep_c": 212}},
            "thing.inner.deep_c",
            "212",
            "a number from 0 to 100",
            "212 looks like degF: write 100. Inside.",
        ),
        (
            {"inner": {"deeper": 2}},
            "thing.inner.deeper",
            "2",
            "no such option",
            "Did you mean 'deep_c'? Its unit is degC.",
        ),
        (
            {"size_g": NOTHING},
            "thing.size_g",
            NOTHING,
            "needed: a number from 1 to 100",
            "Add a line 'size_g = ...'. Put it on a scale.",
        ),
    ],
)
def test_each_wrong_option_is_told_by_place_value_limit_and_cure(
    found: Findings, table: dict[str, Any], key: str, value: str, limit: str, cure: str
) -> None:
    given = {k: v for k, v in ({"name": "a", "size_g": 5} | table).items() if v is not NOTHING}
    build(Thing, given, place="thing", found=found)
    (told,) = found.mistakes.values()
    assert (told.key, told.value, told.limit, told.cure) == (key, value, limit, cure)


def test_every_mistake_of_a_table_is_told_and_the_rest_still_read(found: Findings) -> None:
    made = build(
        Thing,
        {"name": "a", "size_g": 5, "count": -1, "redy": True, "inner": {"deep_c": -1}},
        place="thing",
        found=found,
    )
    assert set(found.mistakes) == {"thing.count", "thing.redy", "thing.inner.deep_c"}
    assert made == Thing(name="a", size_g=5.0, inner=Inner())


def test_a_list_of_things_that_are_no_tables_is_told_in_double_brackets(found: Findings) -> None:
    assert build_list(Thing, {"things": ["a"]}, "things", found=found) == {}
    assert "[[things]]" in found.mistakes["things.1"].cure


def test_a_table_without_what_it_needs_cannot_be_made(found: Findings) -> None:
    assert build(Thing, {"name": "a", "count": -1}, place="thing", found=found) is None
    assert set(found.mistakes) == {"thing.size_g", "thing.count"}


def test_what_is_no_table_is_told(found: Findings) -> None:
    assert build(Thing, 5, place="thing", found=found) is None
    assert found.mistakes["thing"].limit == "a table"
    assert tables({"things": 5}, "things", found=found) == {}
    assert found.mistakes["things"].limit == "tables named [things.NAME]"


def test_the_name_of_a_table_is_its_key_and_is_told_there(found: Findings) -> None:
    assert named(Thing, {"size_g": 5}, name="a", place="things.a", found=found) == Thing(name="a", size_g=5.0)
    named(Thing, {"size_g": 5}, name="Big One", place="things.Big One", found=found)
    told = found.mistakes["things.Big One"]
    assert (told.value, told.cure) == ('"Big One"', 'Write it as "big-one".')


def test_a_name_inside_a_named_table_is_one_too_many(found: Findings) -> None:
    assert named(Thing, {"size_g": 5, "name": "b"}, name="a", place="things.a", found=found) == Thing(
        name="a", size_g=5.0
    )
    assert "take this one out" in found.mistakes["things.a.name"].cure


def test_an_output_that_does_not_exist_is_told_at_its_table_with_the_near_word(found: Findings) -> None:
    named(Output, {"gpio": 17}, name="heatr", place="outputs.heatr", found=found)
    told = found.mistakes["outputs.heatr"]
    assert told.value == '"heatr"'
    assert told.cure == "Did you mean 'heater'?"


def test_the_tables_of_a_list_go_by_their_names_or_else_by_number(found: Findings) -> None:
    raw = {
        "things": [{"name": "a", "size_g": 0}, {"size_g": 5}, {"name": "a", "size_g": 5}, {"name": "b", "size_g": 5}]
    }
    made = build_list(Thing, raw, "things", found=found)
    assert list(found.mistakes) == ["things.a.size_g", "things.2.name", "things.3.name"]
    assert found.mistakes["things.3.name"].limit == "a name that stands only once"
    assert list(made) == ["things.3", "things.b"]


@pytest.mark.parametrize("raw", [{}, {"things": []}, {"things": {"name": "a"}}])
def test_an_empty_list_or_single_brackets_are_told(found: Findings, raw: dict[str, Any]) -> None:
    assert build_list(Thing, raw, "things", found=found) == {}
    assert "[[things]]" in found.mistakes["things"].cure


@given(
    st.dictionaries(
        st.sampled_from([f.name for f in fields(Limits)] + ["over_setpoint", "x"]),
        st.one_of(st.floats(), st.integers(-(10**6), 10**6), st.booleans(), st.text(max_size=3)),
    )
)
def test_a_table_of_numbers_is_accepted_exactly_where_every_number_lies_in_its_range(table: dict[str, Any]) -> None:
    """The ranges told are the ranges kept: what Option.allows says and what pydantic accepts are the same."""
    found = Findings("f")
    made = build(Limits, table, place="limits", found=found)
    known = options(Limits)

    def good(key: str, value: object) -> bool:
        if key not in known:
            return False
        if known[key].kind is bool:
            return isinstance(value, bool)
        return (
            isinstance(value, int | float)
            and not isinstance(value, bool)
            and abs(value) != float("inf")
            and known[key].allows(value)
        )

    assert set(found.mistakes) == {f"limits.{key}" for key, value in table.items() if not good(key, value)}
    assert made is not None
    for field in fields(Limits):
        assert field.default is not MISSING
        kept = table[field.name] if field.name in table and good(field.name, table[field.name]) else field.default
        assert getattr(made, field.name) == kept
