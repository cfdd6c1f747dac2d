"""A rehearsal stands on the owner's own figures, with nothing real switched."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from click.testing import CliRunner

from dryward.doors.cli import main
from dryward.service.stand_in import rehearsal_settings
from dryward.service.wiring import simulated
from dryward.settings import read_settings
from tests.service.conftest import write_twin


def test_without_a_chamber_the_example_is_used() -> None:
    assert simulated(rehearsal_settings(None))


def test_a_simulated_chamber_is_its_own_stand_in(tmp_path: Path) -> None:
    settings = read_settings(write_twin(tmp_path))
    assert rehearsal_settings(settings) is settings


def test_a_real_chamber_lends_limits_control_and_outputs_but_no_line(tmp_path: Path) -> None:
    CliRunner().invoke(main, ["init", str(tmp_path), "--kind", "dryer"])
    real = read_settings(tmp_path / "chamber.toml")
    stand_in = rehearsal_settings(real)
    assert simulated(stand_in)
    assert stand_in.chamber.limits == replace(real.chamber.limits, commissioning=False)
    assert stand_in.chamber.control == real.chamber.control
    assert [o.name for o in stand_in.chamber.outputs] == [o.name for o in real.chamber.outputs]
    assert all(o.gpio is None for o in stand_in.chamber.outputs)
