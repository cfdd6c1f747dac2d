"""Single calls to the disk fail. The long form: python -m tests.bench.diskfaults."""

from __future__ import annotations

from pathlib import Path
from shutil import which

import pytest
from tests.bench.diskfaults import FAULTS, one

pytestmark = pytest.mark.skipif(which("strace") is None, reason="strace is not installed")


@pytest.mark.parametrize(("fault", "nth"), [("no space left", 100), ("I/O error on sync", 7), ("read-only", 90)])
def test_control_goes_on_the_fault_is_told_and_everything_is_there_once_in_the_end(
    tmp_path: Path, fault: str, nth: int
) -> None:
    """A sync that fails is the hard one: SQLite says the commit failed, and after a reopening it is there."""
    calls, error = FAULTS[fault]
    outcome = one(tmp_path, calls, error, nth)
    assert (outcome.hit, outcome.told, outcome.wrong) == (True, True, ())
