"""A worker's pace, and what it says before it ends. Workers as processes are in test_reader_client."""

from __future__ import annotations

import time

import pytest

from dryward_hardware.reader import worker
from dryward_hardware.reader.driver import Missed, Value
from dryward_hardware.reader.worker import FAILURES, Station


class Paced:
    """A driver on a clock that only sleeping and reading move."""

    reads = ("temperature",)
    period_s = 2.0
    deadline_s = 4.0

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.now_s = 50.0
        self.takes_s = 0.5
        self.fails = self.silent = False
        monkeypatch.setattr(time, "monotonic", lambda: self.now_s)
        monkeypatch.setattr(time, "monotonic_ns", lambda: int(self.now_s * 1e9))
        monkeypatch.setattr(worker.time, "sleep", self.sleep)

    def sleep(self, pause_s: float) -> None:
        self.now_s += pause_s

    def read(self) -> tuple[Value, ...]:
        self.now_s += self.takes_s
        if self.fails:
            raise Missed("no answer")
        return () if self.silent else (Value("temperature", 20.0),)

    def close(self) -> None: ...


@pytest.fixture
def driver(monkeypatch: pytest.MonkeyPatch) -> Paced:
    return Paced(monkeypatch)


def test_reads_keep_their_period_and_are_stamped_when_they_begin(driver: Paced) -> None:
    station = Station("top", driver)
    assert [station.read()[0] / 1e9 for _ in range(3)] == [50.0, 52.0, 54.0]


def test_a_slow_read_is_not_caught_up_with(driver: Paced) -> None:
    station = Station("top", driver)
    driver.takes_s = 7.0
    station.read()
    driver.takes_s = 0.5
    assert [station.read()[0] / 1e9 for _ in range(2)] == [57.0, 59.0]


def test_failures_in_a_row_are_counted_and_a_good_read_ends_the_row(driver: Paced) -> None:
    station = Station("top", driver)
    driver.fails = True
    for _ in range(FAILURES - 1):
        assert station.read()[1] == (Value("temperature", None, "no answer"),)
    assert station.failures == FAILURES - 1
    driver.fails = False
    station.read()
    assert station.failures == 0


def test_a_device_with_nothing_to_tell_neither_fails_nor_ends_a_row(driver: Paced) -> None:
    station = Station("reed", driver)
    driver.fails = True
    station.read()
    driver.fails, driver.silent = False, True
    assert station.read()[1] == ()
    assert station.failures == 1
