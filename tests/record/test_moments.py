"""Wall times as text and back."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from dryward.record.moments import utc_seconds, utc_text


def test_the_text_is_rfc_3339_in_utc() -> None:
    """1985-04-12T23:20:50.52Z is an example of RFC 3339, section 5.8."""
    assert utc_seconds("1985-04-12T23:20:50.52Z") == 482196050.52
    assert utc_text(482196050.52) == "1985-04-12T23:20:50.520Z"
    assert utc_seconds("1985-04-12T23:20:50.520Z") == 482196050.52


@given(st.integers(0, 4_000_000_000_000).map(lambda ms: ms / 1000.0))
def test_milliseconds_survive(utc_s: float) -> None:
    assert abs(utc_seconds(utc_text(utc_s)) - utc_s) < 0.0011


@given(st.floats(0.0, 4e9), st.floats(0.0, 4e9))
def test_texts_sort_as_their_times(one: float, other: float) -> None:
    assert (utc_text(one) < utc_text(other)) <= (one < other)
