"""One load cell: follows without lag, ignores what cannot be, tells jumps from drying and how large they were."""

from __future__ import annotations

import random
import statistics
from collections.abc import Callable, Iterable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dryward.core.cell import Cell, Jump, feed


def fed(
    weights: Iterable[float],
    *,
    every_s: float = 30.0,
    cell: Cell | None = None,
    settle_s: float = 1800.0,
    smallest_g: float = 800.0,
    still: bool = True,
) -> tuple[Cell, list[Jump]]:
    """Feed samples at even times; return the cell and its jumps."""
    jumps = []
    at_s = 0.0 if cell is None else cell.seen_s
    for weight_g in weights:
        at_s += every_s
        if cell is None:
            cell = Cell(weight_g, at_s)
            continue
        cell, jump = feed(cell, weight_g, at_s, settle_s=settle_s, smallest_g=smallest_g, still=still)
        jumps += [jump] if jump else []
    assert cell is not None
    return cell, jumps


def noisy(
    weight_g: Callable[[float], float], count: int, *, sigma_g: float = 0.4, seed: int = 1, every_s: float = 30.0
) -> list[float]:
    chance = random.Random(seed)
    return [weight_g(k * every_s / 3600.0) + chance.gauss(0.0, sigma_g) for k in range(count)]


def test_a_steady_loss_is_followed_without_lag() -> None:
    """A least-squares line has no error on a straight line."""
    cell, jumps = fed(1000.0 - 2.0 * k / 120.0 for k in range(720))
    assert cell.level_g == pytest.approx(1000.0 - 2.0 * 719 / 120.0, abs=0.02)
    assert cell.slope_g_per_s * 3600.0 == pytest.approx(-2.0, abs=0.05)
    assert not jumps


def test_drying_that_slows_down_as_it_does_at_first_is_followed() -> None:
    """60 g/h falling to 6 g/h within hours: loss 30 sqrt(t) + 6 t."""
    weights = noisy(lambda h: 1000.0 - 30.0 * h**0.5 - 6.0 * h, 960)
    cell, jumps = fed(weights)
    hours = 959 * 30.0 / 3600.0
    assert cell.level_g == pytest.approx(1000.0 - 30.0 * hours**0.5 - 6.0 * hours, abs=0.4)
    assert not jumps


def test_the_doubt_is_as_large_as_the_errors() -> None:
    """200 lines with noise: errors over stated sigma spread like a normal distribution of about width 1, never wider."""
    scores = []
    for seed in range(200):
        cell, _ = fed(noisy(lambda h: 900.0 - 1.5 * h, 200, seed=seed))
        scores.append((cell.level_g - 900.0 + 1.5 * 199 * 30.0 / 3600.0) / cell.sigma_g)
    assert 0.6 < statistics.pstdev(scores) < 1.1


def test_noise_is_averaged_over_the_settling_time() -> None:
    cell, _ = fed(noisy(lambda h: 900.0 - 1.5 * h, 600, sigma_g=2.0))
    assert cell.noise_g == pytest.approx(2.0, rel=0.4)
    assert cell.sigma_g < 0.6


def test_a_change_of_rate_shortens_the_memory_and_is_followed() -> None:
    """The program goes from hot to warm: 6 g/h become 2 g/h at once."""
    weights = noisy(lambda h: 900.0 - 6.0 * min(h, 5.0) - 2.0 * max(0.0, h - 5.0), 840)
    cell, jumps = fed(weights)
    assert cell.level_g == pytest.approx(900.0 - 30.0 - 2.0 * (839 / 120.0 - 5.0), abs=0.3)
    assert not jumps


def test_single_wild_samples_are_left_out() -> None:
    weights = noisy(lambda h: 900.0 - 1.5 * h, 300)
    for k in range(20, 300, 17):
        weights[k] += 300.0 * (-1) ** k
    cell, jumps = fed(weights)
    assert cell.level_g == pytest.approx(900.0 - 1.5 * 299 / 120.0, abs=0.4)
    assert not jumps


def test_a_piece_lifted_off_is_a_jump_of_its_weight() -> None:
    cell, _ = fed(noisy(lambda h: 2400.0 - 8.0 * h, 240))
    after, jumps = fed(noisy(lambda h: 1600.0 - 16.0 - 4.0 * h, 4, seed=5), cell=cell)
    (jump,) = jumps
    assert jump.change_g == pytest.approx(-800.0, abs=4.0 * jump.sigma_g)
    assert jump.sigma_g < 1.5
    assert after.level_g == pytest.approx(1584.0, abs=1.5)


def test_two_samples_that_agree_are_enough_for_a_piece_but_not_for_a_shake() -> None:
    cell, _ = fed(noisy(lambda h: 900.0, 200))
    assert len(fed([100.0, 100.3], cell=cell)[1]) == 1
    assert not fed([880.0, 880.3], cell=cell)[1]


def test_a_small_jump_has_to_last_five_minutes() -> None:
    cell, _ = fed(noisy(lambda h: 900.0, 200))
    _, jumps = fed([880.0] * 9, cell=cell)
    assert not jumps
    _, jumps = fed([880.0] * 12, cell=cell)
    assert [round(j.change_g) for j in jumps] == [-20]


def test_a_fast_cell_is_not_fooled_by_a_swing() -> None:
    """Samples each 5 s: a knock that swings out in seconds agrees with itself for no 10 s."""
    cell, _ = fed(noisy(lambda h: 900.0, 200), every_s=5.0)
    _, jumps = fed([300.0, 1500.0, 700.0, 1100.0, 860.0, 920.0, 900.0], every_s=5.0, cell=cell)
    assert not jumps


def test_nothing_is_averaged_while_the_door_is_open_but_a_lift_is_seen() -> None:
    cell, _ = fed(noisy(lambda h: 900.0, 200))
    windy, jumps = fed([903.0, 897.5, 902.0], cell=cell, still=False)
    assert windy.level_g == cell.level_g
    assert not jumps
    assert len(fed([0.4, 0.1, 0.2], cell=cell, still=False)[1]) == 1


def test_after_a_long_gap_a_loss_that_drying_can_explain_is_no_jump() -> None:
    """Six hours without power at 5 g/h: 18 g less, where 30 were expected."""
    cell, _ = fed(noisy(lambda h: 900.0 - 5.0 * h, 240))
    after, jumps = fed([cell.level_g - 18.0] * 4, every_s=21_600.0, cell=cell)
    assert not jumps
    assert after.level_g == pytest.approx(cell.level_g - 18.0, abs=6.0)


def test_a_rack_that_begins_to_shake_is_believed_again_once_that_is_known() -> None:
    cell, _ = fed(noisy(lambda h: 900.0, 200))
    after, jumps = fed(noisy(lambda h: 900.0, 400, sigma_g=6.0, seed=4), cell=cell)
    assert after.level_g == pytest.approx(900.0, abs=3.0)
    assert after.noise_g > 3.0
    assert not jumps


@given(st.lists(st.floats(-1e6, 1e6), min_size=2, max_size=60), st.floats(1.0, 4000.0))
def test_whatever_comes_the_cell_stays_finite_and_its_variances_positive(weights: list[float], every_s: float) -> None:
    cell, _ = fed(weights, every_s=every_s)
    level_var, both, slope_var = cell.spread
    assert abs(cell.level_g) < 1e8
    assert cell.noise_g >= 0.0
    assert level_var >= 0.0
    assert slope_var >= 0.0
    assert both * both <= level_var * slope_var * (1.0 + 1e-6) + 1e-12
