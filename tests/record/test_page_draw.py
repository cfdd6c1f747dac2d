"""Lines and axes: round ticks around all values, lines that break at gaps."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from dryward.record.page_draw import area, box, dots, hour_ticks, level, line, scale, staircase, upright

values = st.lists(st.one_of(st.none(), st.floats(-50.0, 1e4)), min_size=1, max_size=50)


@given(values)
def test_every_value_lies_on_its_scale(row: list[float | None]) -> None:
    axis = scale(row, least=5.0)
    assert axis.low < axis.high
    assert 2 <= len(axis.ticks) <= 8
    for v in row:
        if v is not None:
            assert axis.low <= v <= axis.high
            assert 0.0 <= axis.y(v) <= 100.0


@given(st.floats(0.01, 4000.0))
def test_the_time_axis_has_few_labels_and_begins_at_0(hours: float) -> None:
    ticks = hour_ticks(hours)
    assert ticks[0] == (0.0, "0")
    assert len(ticks) <= 8
    assert all(0.0 <= share <= 1.0 for share, _ in ticks)


def test_days_and_hours_are_named() -> None:
    assert [label for _, label in hour_ticks(96.0)] == ["0", "1 d", "2 d", "3 d", "4 d"]
    assert [label for _, label in hour_ticks(10.0)] == ["0", "2 h", "4 h", "6 h", "8 h", "10 h"]
    assert hour_ticks(0.0) == []


def test_lines_break_where_nothing_was_measured() -> None:
    axis = scale([0.0, 10.0], least=1.0)
    assert line([0.0, 10.0, None, 5.0], axis).count("M") == 2
    assert line([None, None], axis) == ""
    assert area([0.0, None], [1.0, None], axis).endswith("Z")
    assert staircase([1.0, 1.0, 2.0], axis).count("V") == 1
    assert dots([(0.5, 5.0)], axis) == "M500.0 50h0"
    assert level(10.0, axis) == "M0 0H1000"
    assert upright(0.5) == "M500.0 0V100"
    assert box(0.0, 0.5, 0.0, 10.0, axis) == "M0.0 0H500.0V100H0.0Z"


def test_a_scale_never_goes_below_its_bottom() -> None:
    """Humidity of a hot dryer lies at 2 or 3 %: there is none below 0."""
    assert scale([2.0, 3.0], least=10.0).low < 0.0
    assert scale([2.0, 3.0], least=10.0, bottom=0.0).low == 0.0
    assert scale([60.0, 75.0], least=10.0, bottom=0.0).low >= 50.0
