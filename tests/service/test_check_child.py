"""The daemon in miniature that the kill test kills."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

from dryward.core.chamber import Output
from dryward.service.check_child import unhurried
from dryward.settings import read_settings
from tests.faults_live.stand import GPIO, write_chamber


def child(config: Path) -> subprocess.Popen[str]:
    environ = {**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))}
    command = [sys.executable, "-m", "dryward.service.check_child", str(config), "heater"]
    return subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=environ)


def test_it_heats_and_says_so_until_it_is_killed(tmp_path: Path) -> None:
    with child(write_chamber(tmp_path)) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "on\n"
        trace = (tmp_path / "run" / "twin-dryer.outputs.trace").read_text()
        assert "heater 1 wanted" in trace
        assert "fan 1" in trace
        process.kill()


def test_a_chamber_without_lines_cannot_be_tried(tmp_path: Path) -> None:
    with child(write_chamber(tmp_path, gpio={})) as process:
        _, said = process.communicate(timeout=20.0)
    assert process.returncode == 1
    assert "no output of this chamber has a gpio" in said


def test_only_a_compressor_keeps_its_shortest_times(tmp_path: Path) -> None:
    extra = "\n[outputs.cooler]\ngpio = 24\nmin_off_s = 300\nmin_on_s = 120\n"
    made: dict[str, Output] = {
        o.name: o for o in unhurried(read_settings(write_chamber(tmp_path, extra=extra))).chamber.outputs
    }
    assert (made["cooler"].min_off_s, made["cooler"].min_on_s) == (300.0, 120.0)
    assert all((made[name].min_off_s, made[name].min_on_s) == (0.0, 0.0) for name in GPIO)
