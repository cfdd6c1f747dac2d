"""Errors of devices name the device, and several at once name all."""

from __future__ import annotations

from dryward_hardware.lines import DeviceError, DevicesError


def test_an_error_names_its_device() -> None:
    error = DeviceError("hook-1", "does not answer")
    assert error.device == "hook-1"
    assert str(error) == "hook-1: does not answer"


def test_several_are_told_together() -> None:
    both = DevicesError([DeviceError("a", "gone"), DeviceError("b", "hot")])
    assert "a: gone" in str(both)
    assert "b: hot" in str(both)
    assert len(both.errors) == 2
