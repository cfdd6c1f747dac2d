"""Power loss, by replaying a trace of system calls. Run: python -m tests.bench.powerloss [IMAGES].

A weigher runs under strace. For any moment of the trace the disk may hold: all that was synced, and of what was written
since then all, nothing, a prefix, any subset, or torn sectors. Each such image is opened as after a reboot and must be
whole, with every weighing acknowledged until then. Some images are then written to again under strace and the power
fails a second time during that. As a proof that the check can fail, the same is done for a disk that ignores fsync.
"""

from __future__ import annotations

import os
import random
import re
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from tests.bench.killing import ROOT, weigher_env
from tests.record.crash import wrong_after_crash

SECTOR = 512
CALLS = "openat,write,pwrite64,ftruncate,fsync,fdatasync,unlink,unlinkat,rename,renameat,renameat2"
KEPT = ("", "-wal", "-journal")  # the -shm file is made anew after a boot


@dataclass(frozen=True, slots=True)
class Op:
    """One thing that happened to a file (by its ending after the record's name), or an acknowledgement of a tick."""

    what: Literal["write", "truncate", "sync", "unlink", "ack", "sync-folder"]
    file: str = ""
    at: int = 0
    data: bytes = b""


@dataclass(slots=True)
class Disk:
    """What is durable, and what was asked for since each file's last sync."""

    durable: dict[str, bytes]
    pending: list[Op] = field(default_factory=list)

    def take(self, op: Op, *, honest: bool) -> None:
        if op.what in ("write", "truncate", "unlink"):
            self.pending.append(op)
        elif honest and op.what == "sync":
            self._settle(lambda p: p.file == op.file and p.what != "unlink")
        elif honest and op.what == "sync-folder":
            self._settle(lambda p: p.what == "unlink")

    def _settle(self, which) -> None:  # type: ignore[no-untyped-def]
        for op in [p for p in self.pending if which(p)]:
            apply(self.durable, op)
        self.pending = [p for p in self.pending if not which(p)]


def apply(files: dict[str, bytes], op: Op) -> None:
    """Carry out one write, truncation or removal on ``files``."""
    if op.what == "unlink":
        files.pop(op.file, None)
        return
    old = files.get(op.file, b"")
    if op.what == "truncate":
        files[op.file] = old[: op.at].ljust(op.at, b"\0")
    else:
        files[op.file] = old[: op.at].ljust(op.at, b"\0") + op.data + old[op.at + len(op.data) :]


def images(
    ops: Sequence[Op], start: Mapping[str, bytes], count: int, chance: random.Random, *, honest: bool = True
) -> Iterator[tuple[dict[str, bytes], set[int]]]:
    """Yield ``count`` images of the disk at random moments, with the ticks acknowledged by then."""
    moments = sorted(chance.randrange(len(ops) + 1) for _ in range(count))
    disk, acknowledged, done = Disk(dict(start)), set[int](), 0
    for moment in moments:
        for op in ops[done:moment]:
            disk.take(op, honest=honest)
            if op.what == "ack":
                acknowledged.add(op.at)
        done = moment
        files = dict(disk.durable)
        for op in _survivors(disk.pending, chance):
            apply(files, op)
        yield files, set(acknowledged)


def _survivors(pending: Sequence[Op], chance: random.Random) -> Iterator[Op]:
    """Choose what of the unsynced operations reached the disk."""
    how = chance.choice(["all", "none", "prefix", "subset", "subset", "torn", "torn"])
    cut = chance.randrange(len(pending) + 1)
    for number, op in enumerate(pending):
        if (
            how == "none"
            or (how == "prefix" and number >= cut)
            or (how in ("subset", "torn") and chance.random() < 0.5)
        ):
            continue
        if how == "torn" and op.what == "write" and chance.random() < 0.5:
            yield from _sectors(op, chance)
        else:
            yield op


def _sectors(op: Op, chance: random.Random) -> Iterator[Op]:
    """Yield some of the disk sectors a write touches."""
    at = op.at
    while at < op.at + len(op.data):
        end = min(op.at + len(op.data), (at // SECTOR + 1) * SECTOR)
        if chance.random() < 0.5:
            yield Op("write", op.file, at, op.data[at - op.at : end - op.at])
        at = end


# ---- the trace


def trace(path: Path, count: int, program: str = "tests.record.weigher") -> list[Op]:
    """Let a weigher (or another ``program``) write ``count`` times into ``path`` under strace; return what it asked of the disk."""
    log = path.with_name("trace")
    command = ["strace", "-f", "-y", "-qq", "-xx", "-s", "10000000", "-e", f"trace={CALLS}", "-o", str(log)]
    subprocess.run(
        [*command, sys.executable, "-m", program, str(path), str(count)],
        cwd=ROOT,
        env=weigher_env(),
        check=True,
        stdout=subprocess.DEVNULL,
    )
    ops = list(_ops(log.read_text(encoding="ascii"), str(path)))
    log.unlink()
    return ops


def _ops(text: str, path: str) -> Iterator[Op]:
    begun: dict[str, str] = {}
    for line in text.splitlines():
        thread, _, rest = line.partition(" ")
        rest = rest.strip()
        if rest.endswith("<unfinished ...>"):
            begun[thread] = rest.removesuffix("<unfinished ...>")
            continue
        if resumed := re.match(r"<\.\.\. \w+ resumed>", rest):
            rest = begun.pop(thread) + rest[resumed.end() :]
        op = _op(rest, path)
        if op is not None:
            yield op


def _op(call: str, path: str) -> Op | None:
    found = re.match(r"(\w+)\((.*)\)\s+= (-?\d+)", call)
    if found is None or found[3].startswith("-"):
        return None
    name, arguments = found[1], found[2]
    texts = [_plain(t) for t in re.findall(r'"((?:\\x[0-9a-f]{2})*)"', arguments)]
    of = re.match(r"\d+<((?:\\x[0-9a-f]{2}|[^>])*)>", arguments)
    file = _plain(of[1]).decode(errors="replace") if of else ""
    if name == "write" and texts and texts[0].startswith(b"ack "):
        return Op("ack", at=int(texts[0].split()[1]))
    if name in ("unlink", "unlinkat") and texts:
        file = texts[0].decode()
    if name in ("fsync", "fdatasync") and file == os.path.dirname(path):
        return Op("sync-folder")
    if not file.startswith(path) or file.removeprefix(path) not in KEPT:
        return None
    ending = file.removeprefix(path)
    match name:
        case "pwrite64":
            return Op("write", ending, int(arguments.rsplit(", ", 1)[1]), texts[0])
        case "ftruncate":
            return Op("truncate", ending, int(arguments.rsplit(", ", 1)[1]))
        case "fsync" | "fdatasync":
            return Op("sync", ending)
        case "unlink" | "unlinkat":
            return Op("unlink", ending)
        case "openat":
            return None
    raise RuntimeError(f"the trace has {name} on {file}, which this bench cannot replay")


def _plain(text: str) -> bytes:
    return bytes.fromhex(text.replace("\\x", "")) if "\\x" in text else text.encode()


# ---- the trial


@dataclass(slots=True)
class Trial:
    images: int = 0
    acknowledged: int = 0
    wrong: list[str] = field(default_factory=list)


def put_down(folder: Path, files: Mapping[str, bytes]) -> Path:
    """Write an image into ``folder`` and return the record's path."""
    for old in folder.iterdir():
        old.unlink()
    for ending, content in files.items():
        (folder / f"r.sqlite{ending}").write_bytes(content)
    return folder / "r.sqlite"


def try_images(
    folder: Path,
    ops: Sequence[Op],
    start: Mapping[str, bytes],
    before: set[int],
    count: int,
    chance: random.Random,
    *,
    honest: bool = True,
) -> Trial:
    """Open ``count`` images and collect what is wrong with them. ``before``: ticks acknowledged before the trace."""
    trial = Trial()
    for files, acknowledged in images(ops, start, count, chance, honest=honest):
        path = put_down(folder, files)
        try:
            wrong = wrong_after_crash(path, acknowledged | before)
        except Exception as error:
            wrong = [f"{type(error).__name__}: {error}"]
        trial.images += 1
        trial.acknowledged += len(acknowledged)
        trial.wrong += wrong
    return trial


def second_crashes(folder: Path, ops: Sequence[Op], count: int, each: int, chance: random.Random) -> Trial:
    """Crash, go on weighing on what was left, and crash again."""
    total = Trial()
    for files, acknowledged in list(images(ops, {}, count, chance)):
        path = put_down(folder, files)
        again = trace(path, 4)
        trial = try_images(folder, again, files, acknowledged, each, chance)
        total.images += trial.images
        total.acknowledged += trial.acknowledged + len(acknowledged) * each
        total.wrong += trial.wrong
    return total


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 1500
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else int(time.time())
    chance = random.Random(seed)
    began = time.monotonic()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        ops = trace(folder / "r.sqlite", 150)
        print(
            f"seed {seed}; trace: {sum(o.what == 'write' for o in ops)} writes, {sum(o.what == 'sync' for o in ops)} syncs, {sum(o.what == 'ack' for o in ops)} acknowledged"
        )
        first = try_images(folder, ops, {}, set(), count, chance)
        print(f"{first.images} images, {first.acknowledged} acknowledgements checked, {len(first.wrong)} wrong")
        second = second_crashes(folder, ops, max(1, count // 50), 10, chance)
        print(
            f"{second.images} images after a second crash, {second.acknowledged} acknowledgements checked, {len(second.wrong)} wrong"
        )
        liar = try_images(folder, ops, {}, set(), max(20, count // 10), chance, honest=False)
        print(
            f"{liar.images} images of a disk that ignores fsync: {len(liar.wrong)} wrong (must not be 0); {time.monotonic() - began:.0f} s"
        )
    wrong = first.wrong + second.wrong
    print("\n".join(wrong[:20]))
    sys.exit(bool(wrong) or not liar.wrong)


if __name__ == "__main__":
    main()
