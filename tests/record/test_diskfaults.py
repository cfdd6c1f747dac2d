"""Single calls to the disk fail. The long form: python -m tests.bench.diskfaults."""

from __future__ import annotations

from pathlib import Path
from shutil import which

import pytest

from tests.bench.diskfaults import FAULTS, one

pytestmark = pytest.mark.skipif(which("strace") is None, reason="strace is not installed")


@pytest.mark.parametrize(("fault", "first"), [("no space left", 100), ("I/O error on sync", 7), ("read-only", 90)])
def test_control_goes_on_the_fault_is_told_and_everything_is_there_once_in_the_end(
    tmp_path: Path, fault: str, first: int
) -> None:
    """A sync that fails is the hard one: SQLite says the commit failed, and after a reopening it is there.

    Which statement the n-th call belongs to differs from run to run, and some calls (of a checkpoint, of a closing)
    may fail without any harm to tell of: so a few are tried. None may lose or double anything.
    """
    calls, error = FAULTS[fault]
    told = False
    for nth in range(first, first + 5):
        folder = tmp_path / str(nth)
        folder.mkdir()
        outcome = one(folder, calls, error, nth)
        assert outcome.wrong == ()
        told = told or (outcome.hit and outcome.told)
        if told:
            return
    pytest.fail(f"five failing calls from {first} on and none was told")
