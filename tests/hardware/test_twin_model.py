"""What every simulated chamber offers, and its grid of time."""

from __future__ import annotations

from typing import get_args

import pytest

from dryward_hardware.twin import Twin
from dryward_hardware.twin.model import PIECE_TICKS, STEP_TICKS, TICK_S, Drive
from dryward_hardware.twin.options import Model


def test_the_grid_of_time_fits_the_polls_of_a_rehearsal() -> None:
    assert STEP_TICKS * TICK_S == 5.0
    assert PIECE_TICKS % STEP_TICKS == 0


def test_a_drive_that_was_not_told_otherwise_is_all_off() -> None:
    assert Drive() == Drive(heat=0.0, fan=0.0, vent=False, door=False)


@pytest.mark.parametrize("model", get_args(Model))
def test_every_model_starts_at_rest_in_its_room_and_can_be_advanced(model: str) -> None:
    twin = Twin("sim", {"model": model, "room": {"air_c": 15.0}})
    twin.poll(0.0)
    twin.poll(3600.0)
    truth = twin.truth()
    assert truth.air_c == pytest.approx(15.0, abs=0.01)
    assert truth.elapsed_s == 3600.0
    assert truth.ledger.supplied_j == 0.0
