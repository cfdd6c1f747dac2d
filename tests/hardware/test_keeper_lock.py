"""One process at a time holds the lines."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from dryward_hardware.keeper.lock import kill_holder, take_lock
from dryward_hardware.lines import DeviceError


def test_a_held_lock_names_its_holder(tmp_path: Path) -> None:
    path = str(tmp_path / "state.lock")
    fd = take_lock(path, patience_s=0.0)
    try:
        with pytest.raises(DeviceError, match=f"process {os.getpid()} already keeps"):
            take_lock(path, patience_s=0.05)
    finally:
        os.close(fd)
    os.close(take_lock(path, patience_s=0.0))


def test_the_lock_goes_with_its_holder_however_it_dies(tmp_path: Path) -> None:
    path = str(tmp_path / "state.lock")
    script = "import sys, signal; from dryward_hardware.keeper.lock import take_lock; take_lock(sys.argv[1], patience_s=0.0); print('held', flush=True); signal.pause()"
    with subprocess.Popen([sys.executable, "-c", script, path], stdout=subprocess.PIPE) as holder:
        assert holder.stdout is not None
        assert holder.stdout.readline() == b"held\n"
        holder.kill()
    os.close(take_lock(path, patience_s=2.0))


def test_only_a_keeper_is_killed(tmp_path: Path) -> None:
    path = tmp_path / "state.lock"
    with subprocess.Popen([sys.executable, "-c", "import signal; signal.pause()"]) as other:
        path.write_text(f"{other.pid}\n")
        kill_holder(str(path))
        assert other.poll() is None
        other.kill()
    with pytest.raises(OSError, match="No such"):
        kill_holder(str(tmp_path / "none"))
