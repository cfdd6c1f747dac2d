"""What a REAL column and a text cannot hold is kept another way."""

from __future__ import annotations

import struct

from hypothesis import given
from hypothesis import strategies as st

from dryward.core.commands import Commands
from dryward.core.inputs import NOTHING, Notice, Reading, Weighing
from dryward.record.rows import Tick, odd, tidy, whole
from tests.record.scene import event, stamp


@given(st.none() | st.floats())
def test_a_number_that_is_split_comes_back_whole(value: float | None) -> None:
    back = whole(*odd(value))
    assert (back is None) == (value is None)
    if value is not None and back is not None:
        assert struct.pack("<d", back) == struct.pack("<d", value) or (value != value and back != back)


@given(st.floats())
def test_the_part_for_the_column_is_never_nan_or_minus_zero(value: float) -> None:
    plain, _ = odd(value)
    assert plain is None or (plain == plain and str(plain) != "-0.0")


@given(st.text())
def test_tidy_text_can_be_stored_and_plain_text_is_untouched(text: str) -> None:
    assert tidy(text) == text
    tidy(text + "\udc80").encode("utf-8")


def test_a_tick_in_which_nothing_happened_needs_no_row() -> None:
    assert not Tick(1, stamp(1), NOTHING, Commands(on=frozenset({"fan"}))).matters()
    inputs = type(NOTHING)
    assert Tick(1, stamp(1), inputs(readings=(Reading("air", 1.0, 1.0),)), Commands()).matters()
    assert Tick(1, stamp(1), inputs(weighings=(Weighing("loin-a", 1.0, 1.0),)), Commands()).matters()
    assert Tick(1, stamp(1), inputs(notices=(Notice("broker-lost"),)), Commands()).matters()
    assert Tick(1, stamp(1), NOTHING, Commands(events=(event(),))).matters()
    assert Tick(1, stamp(1), NOTHING, Commands(), switched=True).matters()
    assert Tick(1, stamp(1), NOTHING, Commands(), skipped_from=0).matters()
