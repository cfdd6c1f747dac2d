"""The chamber clock: numbered ticks on the monotonic clock, and what the wall clock is known to say.

``now`` of a decision is the tick number times the period, whatever moment the thread woke at. A tick that comes too
late to be told from the next is skipped, and the skip is told. The wall clock is only ever written down.
"""

from __future__ import annotations

import ctypes
import os
import select
import time
from math import ceil
from pathlib import Path

from dryward.record.moments import Stamp

STEP_S = 2.0  # fault contract F19: the wall clock moved against the monotonic one by more than this
WATCH_S = 60.0
SYNC_EVERY_S = 10.0
_TIME_ERROR = 5  # adjtimex(2): the clock is not synchronised
_UNSYNCHRONISED_BIT = 0x0040
_SET_BY_TIMESYNCD = Path("/run/systemd/timesync/synchronized")


class _Timex(ctypes.Structure):
    """struct timex of adjtimex(2); only ``status`` is read here."""

    _fields_ = (
        ("modes", ctypes.c_uint),
        ("offset", ctypes.c_long),
        ("freq", ctypes.c_long),
        ("maxerror", ctypes.c_long),
        ("esterror", ctypes.c_long),
        ("status", ctypes.c_int),
        ("rest", ctypes.c_char * 256),
    )


def boot_id() -> str:
    """Return the kernel's id of this boot, or '' where there is none."""
    try:
        return Path("/proc/sys/kernel/random/boot_id").read_text().strip()
    except OSError:
        return ""


def boottime_s() -> float:
    """Return seconds since boot, suspended time included."""
    return time.clock_gettime(time.CLOCK_BOOTTIME)


def synchronised() -> bool:
    """Say whether the wall clock is known to be right; False when nobody can be asked.

    The kernel is asked first (adjtimex). Where a sandbox forbids even the question, the mark of systemd-timesyncd counts.
    """
    try:
        buffer = _Timex()
        state = ctypes.CDLL(None, use_errno=True).adjtimex(ctypes.byref(buffer))
    except (OSError, AttributeError):
        state = -1
    if state < 0:
        return _SET_BY_TIMESYNCD.exists()
    return state < _TIME_ERROR and not buffer.status & _UNSYNCHRONISED_BIT


class Clock:
    """Real time. ``speed`` above 1 shortens the wait between ticks; only simulated chambers may use it."""

    def __init__(self, *, first_tick: int, period_s: float, speed: float = 1.0) -> None:
        self.period_s = period_s
        self._wait_s = period_s / speed
        self._first_tick = first_tick
        self._began = time.monotonic()
        self._tick = first_tick - 1
        # A signal handler runs inside the wait of this very thread: a threading.Event could deadlock there.
        self._stop = os.eventfd(0, os.EFD_NONBLOCK | os.EFD_CLOEXEC)
        self._wake = select.poll()
        self._wake.register(self._stop, select.POLLIN)
        self._sync = (time.monotonic(), synchronised())
        self._offset = time.time() - time.monotonic()
        self._offset_s = time.monotonic()
        self.late_s = 0.0  # how late the last tick woke

    def next_tick(self) -> int | None:
        """Wait for the next tick and return its number; None when the clock was stopped."""
        due = self._began + (self._tick + 1 - self._first_tick) * self._wait_s
        left_s = due - time.monotonic()
        while True:
            # poll counts whole milliseconds on the monotonic clock, whatever the wall clock does meanwhile.
            if self._wake.poll(max(0, ceil(1000.0 * left_s))):
                return None
            left_s = due - time.monotonic()
            if left_s <= 0.0:
                break
        self.late_s = -left_s
        self._tick += 1 + int(self.late_s // self._wait_s)
        return self._tick

    def stop(self) -> None:
        """Let ``next_tick`` return None for ever; may be called from any thread and from a signal handler."""
        os.eventfd_write(self._stop, 1)

    def close(self) -> None:
        """Give the descriptor back. Neither ``stop`` nor ``next_tick`` may be called after it."""
        os.close(self._stop)

    def stamp(self) -> Stamp:
        """Return what the machine's clocks say now."""
        checked_s, known = self._sync
        now_s = time.monotonic()
        if now_s - checked_s > SYNC_EVERY_S:
            known = synchronised()
            self._sync = (now_s, known)
        return Stamp(utc_s=time.time(), boottime_s=boottime_s(), synchronised=known)

    def wall_step_s(self) -> float | None:
        """Return by how much the wall clock has stepped since it was last asked, or None (F19). Slow slewing is none."""
        now_s = time.monotonic()
        offset = time.time() - now_s
        moved_s = offset - self._offset
        if abs(moved_s) <= STEP_S and now_s - self._offset_s < WATCH_S:
            return None
        self._offset, self._offset_s = offset, now_s
        return moved_s if abs(moved_s) > STEP_S else None


class FastClock:
    """Simulated time: ticks follow each other without waiting. The wall time starts at ``utc_s`` and runs with the ticks."""

    def __init__(self, *, first_tick: int, period_s: float, utc_s: float) -> None:
        self.period_s = period_s
        self._first_tick = first_tick
        self._tick = first_tick - 1
        self._utc_s = utc_s
        self._stopped = False
        self.late_s = 0.0

    def next_tick(self) -> int | None:
        if self._stopped:
            return None
        self._tick += 1
        return self._tick

    def stop(self) -> None:
        self._stopped = True

    def stamp(self) -> Stamp:
        elapsed_s = (self._tick - self._first_tick) * self.period_s
        return Stamp(utc_s=self._utc_s + elapsed_s, boottime_s=elapsed_s, synchronised=True)

    def wall_step_s(self) -> float | None:
        return None
