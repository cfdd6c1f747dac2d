"""Platinum and type K against the published tables and an independent library."""

from __future__ import annotations

import pytest
import thermocouple_its90
from hypothesis import given
from hypothesis import strategies as st

from dryward_hardware.drivers.tables import platinum_c, platinum_ratio, type_k_c, type_k_mv
from dryward_hardware.reader.driver import Missed

# IEC 60751, table 1: ohm of a Pt100 by degC (18.52 and 390.48 from the table's ends, from memory).
PLATINUM = {-200: 18.52, -100: 60.26, 0: 100.0, 50: 119.3971, 80: 130.8968, 100: 138.5055, 850: 390.48}
# ITS-90, NIST monograph 175: mV of type K by degC (those below 0 and above 100 from memory).
TYPE_K = {
    -200: -5.891,
    -100: -3.554,
    0: 0.0,
    25: 1.0002,
    65: 2.6437,
    80: 3.2666,
    100: 4.0962,
    400: 16.397,
    1372: 54.886,
}


@pytest.mark.parametrize(("celsius", "ohm"), PLATINUM.items())
def test_platinum_follows_the_standard(celsius: float, ohm: float) -> None:
    digits = 4 if ohm != round(ohm, 2) else 2
    assert round(100.0 * platinum_ratio(celsius), digits) == pytest.approx(ohm, abs=1e-9)


@pytest.mark.parametrize(("celsius", "millivolt"), TYPE_K.items())
def test_type_k_follows_the_standard(celsius: float, millivolt: float) -> None:
    assert type_k_mv(celsius) == pytest.approx(millivolt, abs=0.0005)


@given(st.floats(-200.0, 1372.0))
def test_type_k_agrees_with_an_independent_library(celsius: float) -> None:
    """thermocouple-its90 is checked by its author against all 12026 rows of the NIST database."""
    assert type_k_mv(celsius) == pytest.approx(thermocouple_its90.get("K").emf(celsius), abs=1e-6)


@given(st.floats(-199.9, 849.9))
def test_platinum_is_turned_back(celsius: float) -> None:
    assert platinum_c(platinum_ratio(celsius)) == pytest.approx(celsius, abs=1e-6)


@given(st.floats(-199.9, 1371.9))
def test_type_k_is_turned_back(celsius: float) -> None:
    assert type_k_c(type_k_mv(celsius)) == pytest.approx(celsius, abs=1e-6)


@pytest.mark.parametrize("ratio", [0.0, 4.0, float("nan"), float("inf")])
def test_a_resistance_off_the_table_is_refused(ratio: float) -> None:
    with pytest.raises(Missed, match="outside the rating"):
        platinum_c(ratio)


@pytest.mark.parametrize("millivolt", [-6.0, 55.0, float("nan")])
def test_a_voltage_off_the_table_is_refused(millivolt: float) -> None:
    with pytest.raises(Missed, match="outside the rating"):
        type_k_c(millivolt)
