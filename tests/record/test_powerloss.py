"""Power loss at random moments. The long form: python -m tests.bench.powerloss."""

from __future__ import annotations

import random
from pathlib import Path
from shutil import which

import pytest

from tests.bench.powerloss import Disk, Op, trace, try_images

pytestmark = pytest.mark.skipif(which("strace") is None, reason="strace is not installed")


def test_no_power_cut_loses_an_acknowledged_weighing_and_a_lying_disk_would_be_noticed(tmp_path: Path) -> None:
    (tmp_path / "image").mkdir()
    ops = trace(tmp_path / "r.sqlite", 12)
    assert sum(op.what == "ack" for op in ops) == 12
    trial = try_images(tmp_path / "image", ops, {}, set(), 60, random.Random(1))
    assert trial.wrong == []
    assert try_images(tmp_path / "image", ops, {}, set(), 20, random.Random(1), honest=False).wrong != []


def test_the_replayed_disk_keeps_what_was_synced_and_only_that() -> None:
    disk = Disk({})
    for op in (Op("write", "", 0, b"abcd"), Op("write", "-wal", 0, b"x"), Op("sync", ""), Op("write", "", 2, b"ZZ")):
        disk.take(op, honest=True)
    assert disk.durable == {"": b"abcd"}
    assert [(op.file, op.data) for op in disk.pending] == [("-wal", b"x"), ("", b"ZZ")]
