"""The joint estimate: sums hold, weighings teach, and the filter is the textbook's where the textbook applies."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dryward.core.sharing import MOST_VIGOUR, Form, Prior, Shared, begin, follow, shifted, weighed, without
from dryward.science.falling import pace

GREENS = (600.0, 800.0, 1000.0)
FORMS = tuple(Form(g, pace(green_g=g, thickness_mm=None)) for g in GREENS)
ALL = (True, True, True)


def begun(*, own_g: float = 1.5, common: float = 0.0) -> Shared:
    return begin([Prior(g, own_g, common) for g in GREENS], sum(GREENS), sigma_g=0.5, at_s=0.0)


def dried(shared: Shared, loss_g: float, steps: int = 50) -> Shared:
    total_g = sum(shared.weights_g) + shared.zero_g
    for k in range(1, steps + 1):
        shared = follow(shared, FORMS, ALL, total_g - loss_g * k / steps, sigma_g=0.3, at_s=shared.at_s + 600.0)
    return shared


def matrix(shared: Shared) -> np.ndarray:
    size = len(shared.cov)
    full = np.zeros((size, size))
    for i, row in enumerate(shared.cov):
        full[i, : i + 1] = row
        full[: i + 1, i] = row
    return full


def test_the_sum_is_always_what_was_measured() -> None:
    shared = dried(begun(), 500.0)
    assert sum(shared.weights_g) + shared.zero_g == pytest.approx(1900.0, abs=0.5)


def test_equal_pieces_lose_equally() -> None:
    forms = [Form(700.0, 0.004)] * 4
    shared = begin([Prior(700.0, 1.0)] * 4, 2800.0, sigma_g=0.5, at_s=0.0)
    for k in range(1, 40):
        shared = follow(shared, forms, [True] * 4, 2800.0 - 10.0 * k, sigma_g=0.3, at_s=600.0 * k)
    assert max(shared.weights_g) - min(shared.weights_g) < 1e-6


def test_a_small_piece_loses_a_larger_share_of_itself() -> None:
    shared = dried(begun(), 400.0)
    losses = [1.0 - w / g for w, g in zip(shared.weights_g, GREENS, strict=True)]
    assert losses[0] > losses[1] > losses[2]


def test_doubt_grows_with_the_loss_and_a_weighing_takes_it_away() -> None:
    first = begun()
    later = dried(first, 400.0)
    assert later.sigma_g(1) > 3.0 * first.sigma_g(1)
    known = weighed(later, [1], later.weights_g[1] - 20.0, sigma_g=1.0)
    assert known.sigma_g(1) < 1.01
    assert known.weights_g[1] == pytest.approx(later.weights_g[1] - 20.0, abs=1.0)


def test_a_weighing_corrects_the_neighbours_through_the_sum_and_the_vigour_for_the_time_to_come() -> None:
    later = dried(begun(), 400.0)
    known = weighed(later, [1], later.weights_g[1] - 20.0, sigma_g=1.0)
    assert sum(known.weights_g) + known.zero_g == pytest.approx(sum(later.weights_g) + later.zero_g, abs=0.5)
    assert known.weights_g[0] > later.weights_g[0]
    assert known.vigours[1] > 0.0 > known.vigours[0]


def test_all_but_one_weighed_tells_the_last() -> None:
    later = dried(begun(), 400.0)
    for k in (0, 1):
        later = weighed(later, [k], later.weights_g[k], sigma_g=1.0)
    assert later.sigma_g(2) < 6.0


def test_a_piece_that_is_off_keeps_its_weight() -> None:
    shared = begun()
    after = follow(shared, FORMS, (True, False, True), 1600.0 - 100.0, sigma_g=0.3, at_s=600.0)
    assert after.weights_g[1] == shared.weights_g[1]
    assert after.weights_g[0] + after.weights_g[2] + after.zero_g == pytest.approx(1500.0, abs=0.5)


def test_a_wrong_tare_is_found_by_weighing_everything() -> None:
    shared = begin([Prior(g, 6.0, 0.03) for g in GREENS], sum(GREENS) + 30.0, sigma_g=0.5, at_s=0.0)
    for k, g in enumerate(GREENS):
        shared = weighed(shared, [k], g, sigma_g=1.0)
    assert shared.zero_g == pytest.approx(30.0, abs=3.0)
    assert shared.weights_g == pytest.approx(GREENS, abs=2.0)


def test_the_update_is_kalman_s() -> None:
    """Against the formulas in matrices: x + K (z - H x), (I - K H) P with K = P H' / (H P H' + R) (Kalman 1960)."""
    shared = dried(begun(), 300.0)
    cov, h = matrix(shared), np.array([0.0, 1.0, 1.0, 0.0, 0.0, 0.0, 0.0])
    state = np.array([*shared.weights_g, *shared.vigours, shared.zero_g])
    gain = cov @ h / (h @ cov @ h + 2.0**2)
    after = weighed(shared, [1, 2], 1500.0, sigma_g=2.0)
    assert [*after.weights_g, *after.vigours, after.zero_g] == pytest.approx(state + gain * (1500.0 - h @ state))
    assert matrix(after) == pytest.approx(cov - np.outer(gain, h @ cov), abs=1e-9)


def test_forgetting_a_piece_leaves_the_others_as_they_were() -> None:
    shared = dried(begun(), 300.0)
    less = without(shared, 1)
    assert less.weights_g == (shared.weights_g[0], shared.weights_g[2])
    keep = [0, 2, 3, 5, 6]
    assert matrix(less) == pytest.approx(matrix(shared)[np.ix_(keep, keep)])


def test_a_shift_of_the_zero_moves_no_piece() -> None:
    shared = shifted(begun(), -25.0, sigma_g=1.0)
    after = follow(shared, FORMS, ALL, 2400.0 - 25.0, sigma_g=0.3, at_s=600.0)
    assert after.weights_g == pytest.approx(GREENS, abs=0.5)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 2), st.floats(-40.0, 40.0), st.floats(5.0, 120.0)), max_size=12))
def test_the_covariance_stays_one_whatever_is_weighed(moves: list[tuple[int, float, float]]) -> None:
    """Symmetric and positive: no weighing may make a weight surer than sure, and vigours stay what meat can do."""
    shared = begun()
    for k, off_g, loss_g in moves:
        shared = dried(shared, loss_g, 3)
        shared = weighed(shared, [k], shared.weights_g[k] + off_g, sigma_g=1.0)
    eigenvalues = np.linalg.eigvalsh(matrix(shared))
    assert eigenvalues.min() > -1e-6 * eigenvalues.max()
    assert all(abs(v) <= MOST_VIGOUR for v in shared.vigours)


def test_weights_that_cannot_be_true_do_not_run_away_with_the_vigour() -> None:
    shared = begun()
    for off_g, loss_g in ((0.0, 5.0), (37.0, 15.0), (38.0, 20.0)):
        shared = weighed(dried(shared, loss_g, 3), [0], shared.weights_g[0] + off_g, sigma_g=1.0)
    assert abs(shared.vigours[0]) == MOST_VIGOUR
