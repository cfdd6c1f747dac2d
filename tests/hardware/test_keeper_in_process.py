"""The keeper's rules round simulated outputs, in virtual time."""

from __future__ import annotations

import pytest

from dryward_hardware.keeper.in_process import InProcessKeeper
from dryward_hardware.ports import DeviceError, LineSpec, Outputs

LINES = (
    LineSpec(name="heater", gpio=None),
    LineSpec(name="fan", gpio=None, safe_on=True),
    LineSpec(name="cooler", gpio=None, min_off_s=300.0),
)


class Bulbs:
    """Outputs that remember what they were told."""

    def __init__(self) -> None:
        self.told: list[tuple[frozenset[str], float]] = []
        self.closed_with: frozenset[str] | None = None

    def want(self, on: frozenset[str], now_s: float) -> None:
        self.told.append((on, now_s))

    def actual(self) -> frozenset[str]:
        return self.told[-1][0]

    def close(self) -> None:
        self.closed_with = self.actual()


def test_it_is_an_outputs() -> None:
    assert isinstance(InProcessKeeper(Bulbs(), LINES), Outputs)


def test_it_begins_safe() -> None:
    assert InProcessKeeper(Bulbs(), LINES, now_s=5.0).actual() == {"fan"}


def test_wanted_outputs_reach_the_outputs_inside() -> None:
    bulbs = Bulbs()
    keeper = InProcessKeeper(bulbs, LINES)
    keeper.want(frozenset({"heater", "fan"}), 1.0)
    assert bulbs.told[-1] == (frozenset({"heater", "fan"}), 1.0)


def test_the_lease_runs_out_in_virtual_time() -> None:
    keeper = InProcessKeeper(Bulbs(), LINES, lease_s=7.5)
    keeper.want(frozenset({"heater", "fan"}), 10.0)
    keeper.pass_time(17.4)
    assert "heater" in keeper.actual()
    keeper.pass_time(17.5)
    assert keeper.actual() == {"fan"}


def test_a_compressor_waits_after_the_start_of_the_simulation() -> None:
    keeper = InProcessKeeper(Bulbs(), LINES)
    for now_s in range(1, 300):
        keeper.want(frozenset({"cooler"}), float(now_s))
    assert "cooler" not in keeper.actual()
    keeper.want(frozenset({"cooler"}), 300.0)
    assert "cooler" in keeper.actual()


def test_closing_makes_safe_first() -> None:
    bulbs = Bulbs()
    keeper = InProcessKeeper(bulbs, LINES)
    keeper.want(frozenset({"heater", "fan"}), 1.0)
    keeper.close()
    assert bulbs.closed_with == frozenset({"fan"})


def test_lines_that_cannot_be_kept_are_refused() -> None:
    with pytest.raises(DeviceError, match="heater has safe_on"):
        InProcessKeeper(Bulbs(), [LineSpec(name="heater", gpio=None, safe_on=True)])
