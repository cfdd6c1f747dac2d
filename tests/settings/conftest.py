"""Write a file, read it, look up its mistakes by key path."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from dryward.settings import Mistake, SettingsError

Told = dict[str, Mistake]
CHAMBER = """
[chamber]
name = "shed"
[devices.top]
kind = "hwmon"
name = "sht4x"
[devices.high]
kind = "w1"
id = "28-0123456789ab"
[devices.cell]
kind = "hx711"
[sensors.air]
role = "control-air"
device = "top"
[sensors.limit]
role = "limit-air"
device = "high"
[sensors.rh]
role = "humidity"
device = "top"
[outputs.heater]
gpio = 17
power_w = 1200
[outputs.fan]
gpio = 27
safe_on = true
[scales.hook]
device = "cell"
"""
PROGRAM = """
name = "two-step"
cap_h = 160
[[steps]]
name = "warm"
air_c = 80
[steps.ends]
dwell_h = 24
[[steps]]
name = "finish"
air_c = 70
[steps.ends]
own_target = true
"""
BATCH = """
[[pieces]]
name = "loin"
green_g = 905
[[pieces]]
name = "neck"
green_g = 731
scale = "hook"
"""


@pytest.fixture
def file(tmp_path: Path) -> Callable[[str], Path]:
    def write(text: str) -> Path:
        path = tmp_path / "shed.toml"
        path.write_text(text, encoding="utf-8")
        return path

    return write


@pytest.fixture
def mistakes(file: Callable[[str], Path]) -> Callable[..., Told]:
    """Read a text that must be refused; return its mistakes by key path, each told for the right file."""

    def read(reader: Callable[..., Any], text: str, *more: Any) -> Told:
        path = file(text)
        with pytest.raises(SettingsError) as refused:
            reader(path, *more)
        assert {m.file for m in refused.value.mistakes} == {str(path)}
        by_key = {m.key: m for m in refused.value.mistakes}
        assert len(by_key) == len(refused.value.mistakes), "a key was told twice"
        return by_key

    return read
