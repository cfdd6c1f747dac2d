"""Ports: what sources and outputs are, and how device errors read."""

from __future__ import annotations

from dryward_hardware.ports import Batch, DeviceError, DevicesError, Outputs, Sample, Source
from dryward_hardware.twin import Twin


def test_the_twin_is_a_source_and_outputs() -> None:
    twin = Twin("sim", {})
    assert isinstance(twin, Source)
    assert isinstance(twin, Outputs)


def test_an_object_without_poll_is_no_source() -> None:
    assert not isinstance(object(), Source)
    assert not isinstance(object(), Outputs)


def test_a_device_error_names_the_device_first() -> None:
    error = DeviceError("top", "does not answer; check its wires")
    assert error.device == "top"
    assert str(error) == "top: does not answer; check its wires"


def test_several_errors_are_told_together_and_kept_apart() -> None:
    both = DevicesError([DeviceError("top", "is silent"), DeviceError("frame", "is gone")])
    assert str(both) == "top, frame: top: is silent; frame: is gone"
    assert [e.device for e in both.errors] == ["top", "frame"]


def test_a_sample_that_failed_carries_its_fault_and_an_empty_batch_nothing() -> None:
    assert Sample("top/temperature", None, 1.0, "no answer").fault == "no answer"
    assert Batch() == Batch(samples=(), weights=(), notes=(), finished=False)
