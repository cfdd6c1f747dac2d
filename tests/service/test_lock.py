"""One dryward a chamber."""

from __future__ import annotations

import os
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest

from dryward.service.lock import ChamberLock, Taken


def test_the_second_is_told_who_the_first_is_and_what_to_do(tmp_path: Path) -> None:
    with (
        closing(ChamberLock(tmp_path / "record.db")),
        pytest.raises(Taken, match=f"process {os.getpid()}.*record.db.lock.*Stop that one"),
    ):
        ChamberLock(tmp_path / "record.db")


def test_record_and_socket_of_one_name_are_two_things(tmp_path: Path) -> None:
    with closing(ChamberLock(tmp_path / "dryer.db")), closing(ChamberLock(tmp_path / "dryer.sock")):
        pass


def test_a_folder_that_is_not_there_is_made(tmp_path: Path) -> None:
    ChamberLock(tmp_path / "a" / "b" / "record.db").close()
    assert (tmp_path / "a" / "b").is_dir()


def test_a_killed_holder_leaves_nothing_behind(tmp_path: Path) -> None:
    script = (
        "import sys, signal; from pathlib import Path; from dryward.service.lock import ChamberLock\n"
        "lock = ChamberLock(Path(sys.argv[1])); print('held', flush=True); signal.pause()"
    )
    environ = {**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))}
    with subprocess.Popen(
        [sys.executable, "-c", script, str(tmp_path / "record.db")], stdout=subprocess.PIPE, text=True, env=environ
    ) as holder:
        assert holder.stdout is not None
        assert holder.stdout.readline() == "held\n"
        with pytest.raises(Taken, match=f"process {holder.pid}"):
            ChamberLock(tmp_path / "record.db")
        holder.kill()
    ChamberLock(tmp_path / "record.db").close()


@pytest.mark.skipif(os.geteuid() != 0, reason="giving a folder away needs to be root")
def test_root_leaves_no_file_that_the_service_could_not_write(tmp_path: Path) -> None:
    os.chown(tmp_path, 54321, -1)
    with pytest.raises(PermissionError, match=r"belongs to user 54321.*sudo -u"):
        ChamberLock(tmp_path / "lines")
    assert list(tmp_path.iterdir()) == []
