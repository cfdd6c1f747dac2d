"""The real service with real readers and a real keeper on a faked kernel, in real time, in short."""

from __future__ import annotations

from dataclasses import replace

import pytest

from dryward_hardware.drivers.w1 import w1_celsius
from dryward_hardware.reader.driver import Missed
from tests.hardware.faked_plant import scratchpad
from tests.hardware.faked_tree import Told, Wanted, latest_s, session

SHORT = [Wanted("warm", 40.0, 13.0, 3.0), Wanted("warmer", 42.0, 13.0, 3.0)]
"""Wide bands: the air need not climb far."""


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory) -> Told:
    return session(tmp_path_factory.mktemp("faked") / "dryer", SHORT, within_s=180.0)


def test_a_program_runs_to_its_end_on_kernel_files_and_mock_pins(run: Told) -> None:
    assert run.faults() == []
    assert [step.split(" ")[0] for step in run.steps] == ["warm", "warmer"]
    assert run.ended == "complete"
    assert run.top_c > 24.0  # the plant really followed the pins


def test_check_passes_before_it_and_beside_it(run: Told) -> None:
    assert [check["failed"] for check in run.checks] == [0, 0]
    for check in run.checks:
        passed = " ".join(f["text"] for f in check["findings"] if f["verdict"] == "pass")
        assert all(
            f"{name} (" in passed for name in ("air", "rear", "humidity", "door", "fan-turns", "contactor-closed")
        )
        assert "step warmer" in passed


def test_what_was_wrong_is_said(run: Told) -> None:
    bad = replace(run, ended="held", missed=3, alarms=["air-stale"], left=1, replay="2 differences", heater=0)
    assert len(bad.faults()) == 6
    assert "missed 3" in bad.table()


def test_a_late_turn_is_seen() -> None:
    assert latest_s([10.0, 11.0, 12.25, 13.0]) == pytest.approx(0.25)


@pytest.mark.parametrize("celsius", [-12.5, 0.0, 23.125, 79.5])
def test_the_plants_one_wire_lines_are_the_kernels(celsius: float) -> None:
    assert w1_celsius(scratchpad(celsius)) == celsius
    with pytest.raises(Missed, match="checksum"):
        w1_celsius(scratchpad(celsius, good=False))
