"""Does the kernel leave an output on when its program dies? Module parameter after raspberrypi/linux pull requests 6117 and 6150."""

from __future__ import annotations

from pathlib import Path

import pytest

from dryward.service.persist import outputs_persist


def module(folder: Path, name: str, value: str) -> None:
    parameters = folder / name / "parameters"
    parameters.mkdir(parents=True)
    (parameters / "persist_gpio_outputs").write_text(value)


@pytest.mark.parametrize("value", ["Y\n", "1\n", "y"])
def test_outputs_that_persist_forbid_heat_and_the_cure_is_named(tmp_path: Path, value: str) -> None:
    module(tmp_path, "pinctrl_bcm2835", value)
    why = outputs_persist(tmp_path)
    assert "strict_gpiod" in why
    assert "allow_heat_while_outputs_persist" in why


def test_one_of_two_controllers_is_enough(tmp_path: Path) -> None:
    module(tmp_path, "pinctrl_bcm2835", "N\n")
    module(tmp_path, "pinctrl_rp1", "Y\n")
    assert outputs_persist(tmp_path)


def test_outputs_that_fall_back_do_not(tmp_path: Path) -> None:
    module(tmp_path, "pinctrl_bcm2835", "N\n")
    assert outputs_persist(tmp_path) == ""


def test_a_kernel_without_the_setting_does_not(tmp_path: Path) -> None:
    (tmp_path / "pinctrl_other" / "parameters").mkdir(parents=True)
    assert outputs_persist(tmp_path) == ""
    assert outputs_persist(tmp_path / "nowhere") == ""
