"""The record's disk fills up under the running service (F20): control goes on, an alarm is raised, nothing is lost.

As root a small file system of its own is filled; otherwise the service is forbidden to let any file grow.
"""

from __future__ import annotations

import os
import resource
import sqlite3
import subprocess
from collections.abc import Iterator
from contextlib import closing, suppress
from itertools import pairwise
from pathlib import Path
from time import monotonic

import pytest

from tests.faults_live.stand import Service, Stand, until, waited_s, write_chamber

ALARM_S = 60.0


class FullFileSystem:
    """A small file system with the record in it, and a ballast file that takes the rest."""

    def __init__(self, folder: Path) -> None:
        self._ballast = folder / "ballast"

    def fill(self, service: Service) -> None:
        with suppress(OSError), self._ballast.open("wb", buffering=0) as ballast:
            while ballast.write(bytes(4096)):
                pass

    def free(self, service: Service) -> None:
        self._ballast.unlink()


class NoGrowth:
    """The kernel refuses writes beyond a limit of the process's own (setrlimit(2), RLIMIT_FSIZE)."""

    def fill(self, service: Service) -> None:
        resource.prlimit(service.process.pid, resource.RLIMIT_FSIZE, (1, resource.RLIM_INFINITY))

    def free(self, service: Service) -> None:
        resource.prlimit(service.process.pid, resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))


@pytest.fixture(params=["file system", "limit of the process"])
def disk(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[tuple[Stand, FullFileSystem | NoGrowth]]:
    small = tmp_path / "small"
    small.mkdir()
    if request.param == "file system":
        made = (
            os.geteuid() == 0
            and subprocess.run(["mount", "-t", "tmpfs", "-o", "size=2m", "tmpfs", str(small)], check=False).returncode
            == 0
        )
        if not made:
            pytest.skip("making a file system needs to be root")
    full = FullFileSystem(small) if request.param == "file system" else NoGrowth()
    write_chamber(
        tmp_path / "chamber", change={"record.db": "../small/record.db", "# In your own folder.": "commit_s = 1\n#"}
    )
    try:
        with Stand(tmp_path / "chamber") as stand:
            yield stand, full
    finally:
        if request.param == "file system":
            subprocess.run(["umount", str(small)], check=True)


def alarms(stand: Stand) -> set[str]:
    return {a["key"] for a in stand.status()["alarms"] if a["phase"].startswith("active")}


def readings(stand: Stand) -> list[int]:
    """Return the ticks that have readings on record."""
    path = stand.folder.parent / "small" / "record.db"
    with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as record:
        return [tick for (tick,) in record.execute("SELECT DISTINCT reading_id / 4096 FROM reading ORDER BY 1")]


def test_a_full_disk_takes_neither_heat_nor_readings(disk: tuple[Stand, FullFileSystem | NoGrowth]) -> None:
    stand, full = disk
    service = stand.start_ready()
    stand.begin()
    full.fill(service)
    filled_s, waited_before_s = monotonic(), waited_s(service.process.pid)
    until(lambda: "record-failing" in alarms(stand), within_s=ALARM_S, what="the alarm", pace_s=0.2)
    answer = stand.ask("weigh", piece="loin", weight_g=880.0)
    assert answer["accepted"], answer
    assert answer["recorded"] is False
    assert "NOT" in answer["text"]  # nobody is told that it is safe on disk
    assert stand.is_on("heater")
    assert stand.status()["record"]["waiting"] > 0
    full.free(service)
    freed_s = monotonic()
    until(lambda: stand.status()["record"]["ok"], within_s=30.0, what="the record is written again", pace_s=0.2)
    assert stand.trips() == set()
    pings = [p for p in stand.pings(service) if filled_s <= p <= freed_s + 5.0]
    gaps = [b - a for a, b in pairwise(pings)]
    others_s = waited_s(service.process.pid) - waited_before_s
    assert max(gaps) < 2.0 + others_s  # not one tick was missed for the disk
    assert stand.status()["record"]["lost"] == 0
    with_readings = readings(stand)
    assert max(b - a for a, b in pairwise(with_readings)) <= 2 + int(others_s)  # the contacts are read every second
    assert stand.status()["pieces"][0]["weight_g"] == pytest.approx(880.0, abs=30.0)


@pytest.mark.parametrize(
    "disk", ["file system"], indirect=True
)  # the other one forbids every file to grow, the copy's too
def test_a_trip_while_the_disk_is_full_outlives_a_crash(disk: tuple[Stand, FullFileSystem | NoGrowth]) -> None:
    """The copy of the state beside the socket is on another file system, as /run is on a Raspberry Pi."""
    stand, full = disk
    service = stand.start_ready()
    stand.begin()
    full.fill(service)
    until(lambda: not stand.status()["record"]["ok"], within_s=ALARM_S, what="the record fails", pace_s=0.2)
    stand.trip(service)
    service.process.kill()
    service.process.wait()
    moment_s = monotonic()
    service = stand.start_ready()
    until(lambda: len(stand.pings(service)) >= 4, within_s=10.0, what="some turns")
    assert "keeper-dying" in stand.trips()
    assert not [e for e in stand.trace() if e.output == "heater" and e.on and e.at_s >= moment_s]
