"""Platinum resistors (IEC 60751) and type K thermocouples (ITS-90, NIST monograph 175): voltage and resistance to degrees."""

from __future__ import annotations

from collections.abc import Callable
from math import exp

from dryward_hardware.reader.driver import OUTSIDE, Missed

PLATINUM_A, PLATINUM_B, PLATINUM_C = 3.9083e-3, -5.775e-7, -4.183e-12
PLATINUM_SPAN_C = (-200.0, 850.0)
TYPE_K_SPAN_C = (-200.0, 1372.0)
_K_ABOVE = (
    -0.176004136860e-01,
    0.389212049750e-01,
    0.185587700320e-04,
    -0.994575928740e-07,
    0.318409457190e-09,
    -0.560728448890e-12,
    0.560750590590e-15,
    -0.320207200030e-18,
    0.971511471520e-22,
    -0.121047212750e-25,
)
_K_BELOW = (
    0.0,
    0.394501280250e-01,
    0.236223735980e-04,
    -0.328589067840e-06,
    -0.499048287770e-08,
    -0.675090591730e-10,
    -0.574103274280e-12,
    -0.310888728940e-14,
    -0.104516093650e-16,
    -0.198892668780e-19,
    -0.163226974860e-22,
)


def platinum_ratio(celsius: float) -> float:
    """Resistance of a platinum probe over its resistance at 0 degC, -200 to 850 degC."""
    ratio = 1.0 + PLATINUM_A * celsius + PLATINUM_B * celsius**2
    return ratio + PLATINUM_C * (celsius - 100.0) * celsius**3 if celsius < 0.0 else ratio


def platinum_c(ratio: float) -> float:
    """Temperature of a platinum probe from its resistance over that at 0 degC. Raises Missed outside -200 to 850 degC."""
    return _inverse(platinum_ratio, ratio, PLATINUM_SPAN_C)


def type_k_mv(celsius: float) -> float:
    """Voltage of a type K thermocouple against a junction at 0 degC, mV, -270 to 1372 degC."""
    if celsius < 0.0:
        return _polynomial(_K_BELOW, celsius)
    return _polynomial(_K_ABOVE, celsius) + 0.118597600000 * exp(-0.118343200000e-03 * (celsius - 126.9686) ** 2)


def type_k_c(millivolt: float) -> float:
    """Temperature of a type K thermocouple from its voltage against 0 degC. Raises Missed outside -200 to 1372 degC."""
    return _inverse(type_k_mv, millivolt, TYPE_K_SPAN_C)


def _polynomial(coefficients: tuple[float, ...], x: float) -> float:
    total = 0.0
    for coefficient in reversed(coefficients):
        total = total * x + coefficient
    return total


def _inverse(rising: Callable[[float], float], wanted: float, span: tuple[float, float]) -> float:
    """Return where a rising function has the wanted value, by halving, to 1e-9 of the span."""
    low, high = span
    if not rising(low) <= wanted <= rising(high):
        raise Missed(OUTSIDE)
    for _ in range(50):
        middle = (low + high) / 2.0
        low, high = (middle, high) if rising(middle) < wanted else (low, middle)
    return (low + high) / 2.0
