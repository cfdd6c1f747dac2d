"""Counts of a load cell: what is believed, what it weighs, and back."""

from __future__ import annotations

from collections.abc import Callable, Iterable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dryward_hardware.drivers.cell import Cell, believed, from_offset_binary
from dryward_hardware.reader.driver import Missed


def counting(counts: Iterable[int]) -> Callable[[], int]:
    return iter(counts).__next__


@pytest.mark.parametrize(
    ("raw", "count"),
    [(8388608 + 4294967, 4294967), (8388608 - 250, -250), (8388609, 1), (1, -8388607), (16777214, 8388606)],
)
def test_offset_binary_counts_from_the_lower_end(raw: int, count: int) -> None:
    """8388608 is a balanced bridge; 4294967 counts: a 2 mV/V cell at full load, 5 V, gain 128 (HX711 datasheet)."""
    assert from_offset_binary(raw) == count


def test_full_load_of_a_usual_cell_is_where_the_datasheet_puts_it() -> None:
    """Input 2 mV/V x 5 V = 10 mV; range 5 V / 128 = 39.06 mV for 2^24 codes (HX711 datasheet, kernel's hx711.c)."""
    assert pytest.approx(4294967, abs=1) == 0.010 / (5.0 / 128) * 2**24


@pytest.mark.parametrize("raw", [0, 16777215])
def test_the_ends_of_the_range_are_refused(raw: int) -> None:
    with pytest.raises(Missed, match="end of the range"):
        from_offset_binary(raw)


@pytest.mark.parametrize("raw", [8388607, 8388608])
def test_all_bits_alike_are_refused(raw: int) -> None:
    """Signed -1 and 0: what a powered-down chip or a loose line gives when it is clocked."""
    with pytest.raises(Missed, match="does not move"):
        from_offset_binary(raw)


@pytest.mark.parametrize("raw", [-1, 16777216, 5.5, 1e30])
def test_what_is_no_24_bit_code_is_refused(raw: float) -> None:
    with pytest.raises(Missed, match="24-bit"):
        from_offset_binary(raw)


@pytest.mark.parametrize("count", [-(1 << 23), (1 << 23) - 1, 0, -1, 1 << 23])
def test_a_signed_count_that_cannot_be_is_refused(count: int) -> None:
    with pytest.raises(Missed):
        believed(count)


def test_one_wrong_count_in_five_and_even_two_change_nothing() -> None:
    cell = Cell(zero_count=1000.0, g_per_count=0.01)
    values = cell.weigh(counting([101_000, 101_000, 7_000_000, 101_001, -5_000_000]))
    assert [(v.what, v.value) for v in values] == [("weight", 1000.0), ("counts", 101_000.0)]


def test_without_a_calibration_only_counts_are_told() -> None:
    cell = Cell(zero_count=0.0, g_per_count=0.0)
    assert cell.reads == ("counts",)
    assert [(v.what, v.value) for v in cell.weigh(counting([5, 6, 7, 8, 9]))] == [("counts", 7.0)]


@given(
    st.lists(st.integers(-8_000_000, 8_000_000), min_size=5, max_size=5), st.floats(-1e6, 1e6), st.floats(1e-4, 10.0)
)
def test_the_calibration_takes_a_weight_back_to_its_counts(counts: list[int], zero: float, g_per_count: float) -> None:
    weight, told = Cell(zero_count=zero, g_per_count=g_per_count).weigh(counting(counts))
    assert weight.value is not None
    assert round(weight.value / g_per_count + zero) == told.value
