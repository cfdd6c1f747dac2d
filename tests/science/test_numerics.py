"""Our small numerics against scipy and handbook tables."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import optimize, special
from scipy.linalg import hilbert, lstsq

from dryward.science import numerics

small = st.floats(-10.0, 10.0)


@given(st.lists(st.tuples(small, small, small), min_size=4, max_size=12))
def test_a_straight_fit_leaves_nothing_that_a_column_could_explain(rows: list[tuple[float, float, float]]) -> None:
    """The residual of least squares stands at a right angle to every column."""
    matrix = [[1.0, a, b] for a, b, _ in rows]
    right = [c for _, _, c in rows]
    try:
        found = numerics.solve_least_squares(matrix, right)
    except numerics.SingularError:
        return
    wrong = [
        sum(m * x for m, x in zip(row, found, strict=True)) - value for row, value in zip(matrix, right, strict=True)
    ]
    size = max(1.0, max(abs(x) for x in found))
    for column in range(3):
        assert abs(sum(row[column] * w for row, w in zip(matrix, wrong, strict=True))) < 1e-7 * size


def test_least_squares_agrees_with_scipy_on_an_ill_conditioned_matrix() -> None:
    matrix = hilbert(8)[:, :5]
    right = [float(row.sum()) for row in matrix]
    assert numerics.solve_least_squares(matrix.tolist(), right) == pytest.approx(
        lstsq(matrix, right)[0].tolist(), rel=1e-8
    )


def test_a_column_that_depends_on_another_is_named() -> None:
    with pytest.raises(numerics.SingularError, match="column 2 of 2"):
        numerics.solve_least_squares([[1.0, 2.0], [2.0, 4.0], [3.0, 6.0]], [1.0, 2.0, 4.0])


def test_the_inverse_of_a_symmetric_matrix_undoes_it() -> None:
    matrix = [[4.0, 2.0, 0.6], [2.0, 3.0, 0.4], [0.6, 0.4, 2.0]]
    inverse = numerics.invert_symmetric(matrix)
    for i in range(3):
        for j in range(3):
            assert sum(matrix[i][k] * inverse[k][j] for k in range(3)) == pytest.approx(float(i == j), abs=1e-12)
    with pytest.raises(numerics.SingularError):
        numerics.invert_symmetric([[1.0, 2.0], [2.0, 1.0]])


@pytest.mark.parametrize("order", [0, 1, 2])
@pytest.mark.parametrize("x", [0.0, 0.1, 1.0, 2.404825557695773, 10.0, 100.0])
def test_bessel_functions_agree_with_scipy(order: int, x: float) -> None:
    """2.404825557695773 is the first zero of J0 (DLMF table 10.21)."""
    assert numerics.bessel_j(order, x) == pytest.approx(float(special.jv(order, x)), abs=1e-13)


def test_a_root_agrees_with_scipy() -> None:
    assert numerics.find_root(lambda x: math.cos(x) - x, 0.0, 1.0) == pytest.approx(
        optimize.brentq(lambda x: math.cos(x) - x, 0.0, 1.0), abs=1e-12
    )
    with pytest.raises(ValueError, match="no change of sign"):
        numerics.find_root(lambda x: x * x + 1.0, 0.0, 1.0)


def test_interpolation_holds_the_ends() -> None:
    xs, ys = (0.0, 1.0, 3.0), (1.0, 3.0, -1.0)
    assert [numerics.interpolate(x, xs, ys) for x in (-5.0, 0.0, 0.5, 1.0, 2.0, 3.0, 9.0)] == [
        1.0,
        1.0,
        2.0,
        3.0,
        1.0,
        -1.0,
        -1.0,
    ]


@given(st.lists(st.floats(-1e3, 1e3), min_size=1, max_size=30), st.floats(0.01, 1.0))
def test_a_quantile_has_its_share_at_or_below_it(values: list[float], share: float) -> None:
    found = numerics.weighted_quantile(values, [1.0] * len(values), share)
    assert sum(value <= found for value in values) >= share * len(values) - 1e-9
    assert sum(value < found for value in values) <= share * len(values) + 1e-9


def test_a_quantile_may_be_infinite() -> None:
    values, weights = (1.0, math.inf, 2.0), (0.5, 0.2, 0.3)
    assert numerics.weighted_quantile(values, weights, 0.5) == 1.0
    assert numerics.weighted_quantile(values, weights, 0.75) == 2.0
    assert numerics.weighted_quantile(values, weights, 0.95) == math.inf
