"""kill -9 of a writing process, many times over on one file. Run: python -m tests.bench.killing [KILLS]."""

from __future__ import annotations

import random
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

from tests.record.crash import wrong_after_crash

ROOT = Path(__file__).parents[2]


@dataclass(frozen=True, slots=True)
class Killed:
    kills: int
    acknowledged: int
    wrong: list[str]


def kill_many(path: Path, *, kills: int, seed: int) -> Killed:
    """Start the weigher on ``path``, kill it at a random moment, look at the file; ``kills`` times."""
    chance = random.Random(seed)
    acknowledged: set[int] = set()
    wrong: list[str] = []
    for number in range(kills):
        acknowledged |= _one(path, chance.randrange(0, 30), chance.random() * 0.02)
        wrong += [f"kill {number}: {what}" for what in wrong_after_crash(path, acknowledged)]
    return Killed(kills, len(acknowledged), wrong)


def _one(path: Path, acks: int, then_s: float) -> set[int]:
    """Kill one weigher ``then_s`` after it acknowledged so many; return what it acknowledged until it died."""
    with subprocess.Popen(
        [sys.executable, "-m", "tests.record.weigher", str(path)],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        text=True,
        env=weigher_env(),
    ) as weigher:
        assert weigher.stdout is not None
        said = []
        while len(said) <= acks:
            line = weigher.stdout.readline()
            if not line:
                raise RuntimeError("the weigher died by itself")
            said.append(line)
        time.sleep(then_s)
        weigher.kill()
        said += weigher.stdout.read().splitlines()
    return {int(words[1]) for words in map(str.split, said) if words[0] == "ack" and len(words) == 2}


def weigher_env() -> dict[str, str]:
    return {"PYTHONPATH": f"{ROOT / 'daemon'}:{ROOT / 'hardware'}:{ROOT}", "PATH": "/usr/bin:/bin"}


def main() -> None:
    kills = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    with tempfile.TemporaryDirectory() as folder:
        began = time.monotonic()
        result = kill_many(Path(folder) / "r.sqlite", kills=kills, seed=int(time.time()))
    print(
        f"{result.kills} kills in {time.monotonic() - began:.0f} s, {result.acknowledged} acknowledged weighings, {len(result.wrong)} wrong"
    )
    print("\n".join(result.wrong[:20]))
    sys.exit(bool(result.wrong))


if __name__ == "__main__":
    main()
