"""The HX711 through the kernel's file."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from dryward_hardware.drivers import hx711 as module
from dryward_hardware.drivers.hx711 import Hx711
from dryward_hardware.reader.driver import Value, read_once
from tests.hardware.kernel_tree import KernelTree


class Amplifier:
    """Stands for the file: gives what is queued, an error where one is queued, else its last value."""

    def __init__(self, *answers: float | OSError) -> None:
        self.answers = list(answers)
        self.reads = 0

    def __call__(self, path: str) -> float:
        self.reads += 1
        answer = self.answers.pop(0) if len(self.answers) > 1 else self.answers[0]
        if isinstance(answer, OSError):
            raise answer
        return answer


def amplifier(monkeypatch: pytest.MonkeyPatch, *answers: float | OSError) -> Amplifier:
    stand_in = Amplifier(*answers)
    monkeypatch.setattr(module, "read_number", stand_in)
    return stand_in


@pytest.fixture
def driver(tmp_path: Path) -> Hx711:
    KernelTree(tmp_path).iio(0, "hx711", label="hook-1", voltage0_raw=8388608 + 101_000)
    return Hx711(name="hook-1", root=str(tmp_path), zero_count=1000.0, g_per_count=0.01)


def test_the_kernels_code_becomes_a_weight_and_the_counts_behind_it(driver: Hx711) -> None:
    assert read_once(driver) == (Value("weight", 1000.0), Value("counts", 101_000.0))


def test_the_first_value_after_the_start_is_dropped(driver: Hx711, monkeypatch: pytest.MonkeyPatch) -> None:
    amplifier(monkeypatch, 8388608 + 999_999, *[8388608 + n for n in (10, 11, 12, 13, 14)], 8388608 + 20)
    assert read_once(driver)[1].value == 12.0


def test_the_first_value_after_a_failure_is_dropped_too(driver: Hx711, monkeypatch: pytest.MonkeyPatch) -> None:
    stand_in = amplifier(monkeypatch, 8388708)
    assert read_once(driver)[1].value == 100.0
    assert stand_in.reads == 6
    stand_in.answers = [OSError(5, "EIO"), 8388708]
    assert [v.fault for v in read_once(driver)] == ["input/output error"] * 2
    stand_in.answers, stand_in.reads = [8388608 + 7_000_000, 8388708], 0
    assert read_once(driver)[1].value == 100.0
    assert stand_in.reads == 6
    assert read_once(driver)[1].value == 100.0
    assert stand_in.reads == 11


@pytest.mark.parametrize(
    ("raw", "fault"),
    [
        (0, "end of the range"),
        (16777215, "end of the range"),
        (8388607, "the data line does not move"),
        (8388608, "the data line does not move"),
        (-5, "not a 24-bit code"),
    ],
)
def test_codes_that_weigh_nothing_are_failed_reads(tmp_path: Path, raw: int, fault: str) -> None:
    KernelTree(tmp_path).iio(0, "hx711", voltage0_raw=raw)
    assert [(v.value, v.fault) for v in read_once(Hx711(root=str(tmp_path), g_per_count=0.01))] == [(None, fault)] * 2


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.one_of(st.binary(max_size=30), st.integers(-10, 2**24 + 10).map(str), st.floats().map(str)))
def test_whatever_stands_in_the_file_nothing_breaks_and_nothing_impossible_is_believed(
    tmp_path: Path, content: str | bytes
) -> None:
    KernelTree(tmp_path).iio(0, "hx711")
    KernelTree(tmp_path).put("bus/iio/devices/iio:device0/in_voltage0_raw", content)
    (counts,) = read_once(Hx711(root=str(tmp_path)))
    assert (counts.value is None) == bool(counts.fault)
    assert counts.value is None or abs(counts.value) < 2**23
