"""Plain aligned text."""

from __future__ import annotations

import pytest

from dryward.doors.tables import grams, hours, per_cent, table


def test_columns_are_aligned() -> None:
    text = table(["piece", "now"], [["loin-1", "9 g"], ["a", "1000 g"]])
    assert text == "piece      now\nloin-1     9 g\na       1000 g"


@pytest.mark.parametrize(
    ("seconds", "text"),
    [(None, "-"), (0.0, "00:00"), (3_660.0, "01:01"), (90_000.0, "1 d 01:00"), (86_399.0, "1 d 00:00")],
)
def test_lengths_of_time(seconds: float | None, text: str) -> None:
    assert hours(seconds) == text


def test_what_is_not_known_is_a_dash() -> None:
    assert grams(None) == per_cent(None) == "-"
    assert grams(611.6) == "612 g"
    assert per_cent(34.96) == "35.0 %"
    assert per_cent(-0.04) == "0.0 %"
