"""JSON of core's values is lossless, and older texts can still be read."""

from __future__ import annotations

import struct
from dataclasses import dataclass, field
from typing import Any, Literal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dryward.core.inputs import Ack, Ask, Hold, Load, Pull, Reset, Resume, Shelve, Start, Stop, Weigh
from dryward.record.checkpoint import from_json, to_json
from tests.record.scene import CHAMBER, PIECES, PROGRAM


@dataclass(frozen=True, slots=True)
class Inner:
    x: float
    y: float | None = None


@dataclass(frozen=True, slots=True)
class Outer:
    at: float
    inner: tuple[Inner, ...]
    named: dict[str, Inner]
    on: frozenset[str]
    mode: Literal["idle", "running"] = "idle"
    counts: dict[str, int] = field(default_factory=dict)


def bits(value: float) -> bytes:
    return struct.pack("<d", value)


@given(st.floats())
def test_every_float_comes_back_with_the_same_bits(value: float) -> None:
    back = from_json(Inner, to_json(Inner(value))).x
    assert bits(back) == bits(value) or (value != value and back != back)


@given(
    st.builds(
        Outer,
        at=st.floats(allow_nan=False),
        inner=st.lists(
            st.builds(Inner, x=st.floats(allow_nan=False), y=st.none() | st.floats(allow_nan=False)), max_size=4
        ).map(tuple),
        named=st.dictionaries(st.text(max_size=5), st.builds(Inner, x=st.floats(allow_nan=False)), max_size=3),
        on=st.frozensets(st.text(max_size=5), max_size=3),
        mode=st.sampled_from(["idle", "running"]),
        counts=st.dictionaries(st.text(max_size=3), st.integers(), max_size=3),
    )
)
def test_nested_values_come_back_equal(value: Outer) -> None:
    assert from_json(Outer, to_json(value)) == value


@pytest.mark.parametrize(
    "ask",
    [
        Load(pieces=PIECES), Start(program=PROGRAM, run_id="r1"), Hold(reason="rain"), Hold(), Resume(), Stop(reason="rain"), Stop(),
        Weigh(piece="loin-a", weight_g=-3.5), Pull(piece="loin-a"), Pull(piece="loin-a", weight_g=650.1), Ack(), Shelve(alarm="door", hours=2.5), Reset(),
    ],
    ids=lambda ask: f"{ask.verb}",
)  # fmt: skip
def test_a_request_comes_back_as_the_same_verb(ask: Any) -> None:
    """Hold and Stop have the same fields: the verb must tell them apart."""
    union: Any = Ask
    back = from_json(union, to_json(ask))
    assert type(back) is type(ask)
    assert back == ask


def test_the_whole_chamber_comes_back() -> None:
    assert from_json(type(CHAMBER), to_json(CHAMBER)) == CHAMBER


def test_an_older_text_is_read_with_defaults_and_without_fields_that_are_gone() -> None:
    assert from_json(Inner, '{"x": 1.5, "dropped": 3}') == Inner(1.5, None)


def test_a_text_of_something_else_is_refused() -> None:
    with pytest.raises(ValueError, match="x"):
        from_json(Inner, '{"y": 1.0}')
