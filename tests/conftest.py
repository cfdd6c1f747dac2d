"""What holds for every test: no deadline on a shared machine, no thread and no process left behind."""

from __future__ import annotations

import os
import signal
import threading
import time
from collections.abc import Generator, Iterator

import psutil
import pytest
from hypothesis import settings

settings.register_profile("house", deadline=None)
settings.load_profile("house")

GRACE_S = 10.0  # ends as soon as nothing is left

# A run in the background or under nohup ignores these, and so would every process that a test starts and kills by them.
signal.signal(signal.SIGHUP, signal.SIG_DFL)
if signal.getsignal(signal.SIGINT) == signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(
    item: pytest.Item, call: pytest.CallInfo[None]
) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """Where everything must run (CI=true), a test that is skipped for a missing part is an error; real devices excepted."""
    report = yield
    if os.environ.get("CI") and report.skipped and not item.get_closest_marker("hardware"):
        reason = report.longrepr[2] if isinstance(report.longrepr, tuple) else report.longrepr
        report.outcome, report.longrepr = "failed", f"skipped although CI=true: {reason}"
    return report


@pytest.fixture(autouse=True)
def _nothing_left_behind() -> Iterator[None]:
    """Fail a test that leaves a thread or a child process running."""
    threads = set(threading.enumerate())
    children = {p.pid for p in psutil.Process().children()}
    yield
    deadline = time.monotonic() + GRACE_S
    while True:
        left = [t.name for t in threading.enumerate() if t not in threads and t.is_alive()]
        running = [p for p in psutil.Process().children() if p.pid not in children]
        alive = [p.pid for p in running if p.status() != psutil.STATUS_ZOMBIE]
        if not left and not alive:
            return
        if time.monotonic() > deadline:
            pytest.fail(f"left behind: threads {left}, processes {alive}")
        threading.Event().wait(0.05)
