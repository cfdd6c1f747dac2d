"""The chamber clock on the monotonic clock, and what it is known of the wall clock."""

from __future__ import annotations

import ctypes
import signal
import threading
from pathlib import Path
from time import monotonic

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dryward.service import clock as module
from dryward.service.clock import Clock, FastClock, boot_id, boottime_s, synchronised


class Times:
    """The machine's clocks, as a test sets them."""

    def __init__(self) -> None:
        self.monotonic_s = 1000.0
        self.wall_s = 1.7e9

    def monotonic(self) -> float:
        return self.monotonic_s

    def time(self) -> float:
        return self.wall_s

    def pass_s(self, passed_s: float, *, wall_step_s: float = 0.0) -> None:
        self.monotonic_s += passed_s
        self.wall_s += passed_s + wall_step_s


@pytest.fixture
def times(monkeypatch: pytest.MonkeyPatch) -> Times:
    made = Times()
    monkeypatch.setattr(module.time, "monotonic", made.monotonic)
    monkeypatch.setattr(module.time, "time", made.time)
    return made


def test_ticks_are_numbered_and_come_in_time() -> None:
    clock = Clock(first_tick=7, period_s=0.5, speed=10.0)
    began_s = monotonic()
    assert [clock.next_tick() for _ in range(5)] == [7, 8, 9, 10, 11]
    assert monotonic() - began_s >= 4 * 0.05 - 0.001
    clock.close()


def test_a_tick_that_is_missed_is_skipped_and_never_made_up_for(times: Times) -> None:
    clock = Clock(first_tick=1, period_s=1.0)
    assert clock.next_tick() == 1
    times.pass_s(3.4)
    assert clock.next_tick() == 4  # ticks 2 and 3 are gone; 4 is 0.4 s late
    assert clock.late_s == pytest.approx(2.4)  # counted from when tick 2 was due
    times.pass_s(0.7)
    assert clock.next_tick() == 5
    assert clock.late_s == pytest.approx(0.1)
    clock.close()


def test_the_wall_clock_moves_no_tick(times: Times) -> None:
    clock = Clock(first_tick=1, period_s=1.0)
    seen = []
    for step_s in (0.0, 3600.0, -7200.0, 3.15e8, -3.15e8):
        seen.append(clock.next_tick())
        times.pass_s(1.0, wall_step_s=step_s)
    assert seen == [1, 2, 3, 4, 5]
    clock.close()


def test_a_signal_handler_ends_the_wait_it_interrupts() -> None:
    """A threading.Event would deadlock now and then when its own waiter sets it from a signal handler."""
    before = signal.getsignal(signal.SIGALRM)
    try:
        for n in range(50):
            clock = Clock(first_tick=1, period_s=1000.0)
            assert clock.next_tick() == 1
            signal.signal(signal.SIGALRM, lambda *_, c=clock: c.stop())
            signal.setitimer(signal.ITIMER_REAL, 0.0001 + 0.0001 * (n % 10))
            assert clock.next_tick() is None
            clock.close()
    finally:
        signal.signal(signal.SIGALRM, before)


def test_a_stopped_clock_stays_stopped() -> None:
    clock = Clock(first_tick=1, period_s=0.5)
    thread = threading.Thread(target=clock.stop)
    thread.start()
    thread.join()
    assert [clock.next_tick(), clock.next_tick()] == [None, None]
    clock.close()


@pytest.mark.parametrize("step_s", [2.1, -2.1, 120.0, -3600.0, 604_800.0, -3.15e8])
def test_a_step_of_the_wall_clock_is_told_once_within_a_tick(times: Times, step_s: float) -> None:
    """Fault F19: moved by more than 2 s against the monotonic clock within a minute."""
    clock = Clock(first_tick=1, period_s=1.0)
    times.pass_s(1.0)
    assert clock.wall_step_s() is None
    times.pass_s(1.0, wall_step_s=step_s)
    assert clock.wall_step_s() == pytest.approx(step_s)
    times.pass_s(1.0)
    assert clock.wall_step_s() is None
    clock.close()


def test_slewing_is_no_step(times: Times) -> None:
    """The kernel slews by 500 parts in a million at most (adjtimex(2)): 0.03 s in a minute."""
    clock = Clock(first_tick=1, period_s=1.0)
    for _ in range(20_000):
        times.pass_s(1.0, wall_step_s=500e-6)
        assert clock.wall_step_s() is None
    clock.close()


@pytest.mark.parametrize(
    ("state", "status", "right"), [(0, 0x2001, True), (0, 0x0040, False), (5, 0x0040, False), (5, 0x2001, False)]
)
def test_the_kernel_is_asked_whether_the_clock_is_right(
    monkeypatch: pytest.MonkeyPatch, state: int, status: int, right: bool
) -> None:
    """adjtimex(2): TIME_ERROR is 5, STA_UNSYNC 0x0040, STA_PLL 0x0001, STA_NANO 0x2000."""

    class Library:
        @staticmethod
        def adjtimex(reference: object) -> int:
            ctypes.cast(reference, ctypes.POINTER(module._Timex)).contents.status = status  # type: ignore[arg-type]
            return state

    monkeypatch.setattr(module.ctypes, "CDLL", lambda *_, **__: Library)
    assert synchronised() is right


def test_where_the_question_is_forbidden_the_mark_of_the_time_service_counts(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    class Library:
        @staticmethod
        def adjtimex(reference: object) -> int:
            return -1  # EPERM in a sandbox

    monkeypatch.setattr(module.ctypes, "CDLL", lambda *_, **__: Library)
    monkeypatch.setattr(module, "_SET_BY_TIMESYNCD", tmp_path / "synchronized")
    assert synchronised() is False
    (tmp_path / "synchronized").touch()
    assert synchronised() is True


def test_this_kernel_answers() -> None:
    assert isinstance(synchronised(), bool)
    assert boot_id() == Path("/proc/sys/kernel/random/boot_id").read_text().strip()
    assert boottime_s() == pytest.approx(float(Path("/proc/uptime").read_text().split()[0]), abs=1.0)


@given(first=st.integers(0, 2**40), count=st.integers(1, 50))
def test_simulated_ticks_follow_each_other(first: int, count: int) -> None:
    clock = FastClock(first_tick=first, period_s=5.0, utc_s=1e9)
    assert [clock.next_tick() for _ in range(count)] == list(range(first, first + count))
    assert clock.stamp().utc_s == 1e9 + 5.0 * (count - 1)
    assert clock.wall_step_s() is None
    clock.stop()
    assert clock.next_tick() is None
