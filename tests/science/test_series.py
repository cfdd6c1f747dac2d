"""Raw weighings become a few good points, whatever the log looked like."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from dryward.science.series import MOST, resolution_g, thin, tidy

ROWS = st.lists(st.tuples(st.floats(0.0, 1e6), st.floats(1.0, 1e4)), min_size=1, max_size=200)


@given(ROWS)
def test_tidy_rows_are_sorted_and_no_moment_comes_twice(rows: list[tuple[float, float]]) -> None:
    times = [t for t, _ in tidy(rows)]
    assert times == sorted(set(times))
    assert set(times) == {t for t, _ in rows}


def test_weighings_of_one_moment_become_their_median() -> None:
    assert tidy([(5.0, 90.0), (0.0, 100.0), (5.0, 91.0), (5.0, 500.0)]) == [(0.0, 100.0), (5.0, 91.0)]


def test_a_short_series_stays_and_a_long_one_is_thinned_by_medians() -> None:
    short = [(float(i), 100.0 - i) for i in range(10)]
    assert [(w.t_s, w.weight_g, w.count) for w in thin(short)] == [(t, g, 1) for t, g in short]
    long = [(float(i), 1000.0 - 0.01 * i + (400.0 if i % 97 == 3 else 0.0)) for i in range(10_000)]
    thinned = thin(long)
    assert len(thinned) <= MOST + 1
    assert sum(w.count for w in thinned) == len(long)
    for weight in thinned[1:]:
        assert abs(weight.weight_g - (1000.0 - 0.01 * weight.t_s)) < 1.0  # touches of the hook do not count


def test_the_step_of_the_scale_is_seen_in_the_figures() -> None:
    assert resolution_g([812.0, 790.0]) == 1.0
    assert resolution_g([812.5, 790.0]) == 0.1
    assert resolution_g([5.0317]) == 0.0001
