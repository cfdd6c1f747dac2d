"""The whole service is killed a hundred times while it heats (F1, F2, F16, F23); a thousand by ``python -m tests.faults_live.kills``."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from tests.faults_live.kills import SHARES, WORKERS, kill_many, table

KILLS = 100


def test_heat_ends_whatever_kills_the_service(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    seed = random.SystemRandom().randrange(2**32)
    shots = kill_many(KILLS, seed=seed, workers=WORKERS, folder=tmp_path)
    with capsys.disabled():
        print(f"\n{table(shots)}\nseed {seed}")
    assert len(shots) >= KILLS
    assert {s.kind for s in shots} == set(SHARES)
    assert [f"{s.kind}: {w}" for s in shots for w in s.wrong] == []
    assert sum(s.heating for s in shots) >= 0.9 * KILLS  # else the kills would show nothing
