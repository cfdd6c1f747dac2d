"""What is really so: losses, energy, frozen."""

from __future__ import annotations

import dataclasses

import pytest

from dryward_hardware.ports import Hung
from dryward_hardware.twin import Twin


def test_loss_is_of_the_green_weight_and_water_and_energy_are_counted() -> None:
    twin = Twin("sim", {"start_c": 60.0})
    twin.hang([Hung(name="p", green_g=800.0)])
    twin.want(frozenset({"heater", "fan"}), 0.0)
    twin.poll(1800.0)
    truth = twin.truth()
    (piece,) = truth.pieces
    assert piece.loss_pct == pytest.approx(100.0 * (800.0 - piece.mass_g) / 800.0)
    assert truth.evaporated_g == pytest.approx(800.0 - piece.mass_g, abs=1e-6)
    assert truth.energy_j == pytest.approx(915.0 * 1800.0)
    assert piece.moisture == pytest.approx((piece.mass_g - 200.0) / 200.0, rel=1e-3)


def test_the_truth_is_frozen() -> None:
    truth = Twin("sim", {}).truth()
    with pytest.raises(dataclasses.FrozenInstanceError):
        truth.air_c = 0.0  # type: ignore[misc]
