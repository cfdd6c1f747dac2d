"""The n-th call to the disk fails, n = 1, 2, ... until none does. Run: python -m tests.bench.diskfaults [STEP].

Each run lets a small process tick on time while strace makes three calls in a row fail, from the n-th on: no space,
an I/O error, a file system turned read-only. The ticks must not be late, the record must say that it fails, and
in the end every reading and weighing must be there once.
"""

from __future__ import annotations

import json
import sqlite3
import subprocess
import sys
import tempfile
import time
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tests.bench.killing import ROOT, weigher_env

TICKS = 40
RUN_LENGTH = 3
FAULTS = {
    "no space left": ("pwrite64,ftruncate", "ENOSPC"),
    "I/O error on write": ("pwrite64,ftruncate", "EIO"),
    "I/O error on sync": ("fsync,fdatasync", "EIO"),
    "I/O error on read": ("pread64,read", "EIO"),
    "read-only": ("openat,pwrite64,ftruncate,unlink", "EROFS"),
}
LATE_S = 1.0  # two ticks of the real loop are 2 s


@dataclass(frozen=True, slots=True)
class Outcome:
    hit: bool  # a call was made to fail
    told: bool
    wrong: tuple[str, ...]


def one(folder: Path, calls: str, error: str, nth: int) -> Outcome:
    """Run the ticker with calls ``nth`` to ``nth`` + 2 on the record's files failing."""
    for old in folder.iterdir():
        old.unlink()
    path, log = folder / "r.sqlite", folder / "trace"
    files = [option for ending in ("", "-wal", "-journal") for option in ("-P", f"{path}{ending}")]
    inject = f"inject={calls}:error={error}:when={nth}..{nth + RUN_LENGTH - 1}"
    command = ["strace", "-f", "-qq", "-o", str(log), *files, "-e", f"trace={calls}", "-e", inject]
    done = subprocess.run(
        [*command, sys.executable, "-m", "tests.record.ticker", str(path), str(TICKS)],
        cwd=ROOT,
        env=weigher_env(),
        capture_output=True,
        text=True,
        check=False,
    )
    hit = "(INJECTED)" in log.read_text(encoding="ascii", errors="replace")
    if done.returncode:
        return Outcome(hit, False, (f"the ticker ended with {done.returncode}: {done.stderr[-300:]}",))
    said = json.loads(done.stdout)
    return Outcome(hit, bool(said["why"]), tuple(_wrong(path, said)))


def _wrong(path: Path, said: dict[str, Any]) -> list[str]:
    found = [] if said["put_s"] < LATE_S else [f"put took {said['put_s']:.2f} s"]
    if not said["durable"] or not said["closed"]:
        return [*found, f"never durable again: {said}"]
    if said["dropped"] or said["refused"]:
        found.append(f"dropped or refused: {said}")
    rows: list[tuple[int, int]] = []
    for file in [path, *([Path(said["set_aside"])] if said["set_aside"] else [])]:
        with closing(sqlite3.connect(file)) as conn:
            if conn.execute("PRAGMA integrity_check").fetchall() != [("ok",)]:
                found.append(f"{file.name} is damaged")
            if conn.execute("PRAGMA user_version").fetchone() == (0,):
                continue  # set aside before it had tables
            rows.append(
                (
                    conn.execute("SELECT count(*) FROM reading").fetchone()[0],
                    conn.execute("SELECT count(*) FROM weigh_in").fetchone()[0],
                )
            )
    if (sum(r for r, _ in rows), sum(w for _, w in rows)) != (3 * TICKS, TICKS // 5):
        found.append(f"{rows} readings and weighings instead of {3 * TICKS} and {TICKS // 5}")
    return found


def until_clean(folder: Path, calls: str, error: str, step: int) -> tuple[int, int, list[str]]:
    """Return runs that were hit, runs in which the record said so, and what was wrong."""
    hits = told = 0
    wrong: list[str] = []
    nth = 1
    while True:
        outcome = one(folder, calls, error, nth)
        wrong += [f"n = {nth}: {what}" for what in outcome.wrong]
        if not outcome.hit:
            return hits, told, wrong
        hits, told, nth = hits + 1, told + outcome.told, nth + step


def main() -> None:
    step = int(sys.argv[1]) if len(sys.argv) > 1 else 1
    bad = False
    with tempfile.TemporaryDirectory() as name:
        for what, (calls, error) in FAULTS.items():
            began = time.monotonic()
            hits, told, wrong = until_clean(Path(name), calls, error, step)
            print(
                f"{what} ({error}): {hits} places, told in {told}, {len(wrong)} wrong, {time.monotonic() - began:.0f} s"
            )
            print("".join(f"  {line}\n" for line in wrong[:10]), end="", flush=True)
            bad = bad or bool(wrong)
    sys.exit(bad)


if __name__ == "__main__":
    main()
