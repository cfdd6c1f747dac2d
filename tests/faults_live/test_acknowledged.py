"""The real service is killed while people ask; a thousand times by ``python -m tests.faults_live.acknowledged``."""

from __future__ import annotations

import random
import sqlite3
from collections import Counter
from contextlib import closing
from pathlib import Path

from tests.faults_live.acknowledged import BATCH, Told, _committed, _wrong, kill_many
from tests.faults_live.stand import PROGRAM, Stand, write_chamber

KILLS = 24


def test_nothing_acknowledged_or_committed_is_lost_by_kills(tmp_path: Path) -> None:
    seed = random.SystemRandom().randrange(2**32)
    told = kill_many(KILLS, seed=seed, workers=2, folder=tmp_path)
    assert [what for one in told for what in one.wrong] == [], seed
    assert sum(one.kills for one in told) >= KILLS
    assert sum(len(one.weighed) for one in told) >= KILLS / 2  # else the kills would show nothing
    assert sum(len(one.held) + one.resumed for one in told) >= 2
    assert all(one.samples for one in told)


def test_what_is_missing_doubled_or_behind_is_seen(tmp_path: Path) -> None:
    """The look itself is tried: on a record in which something acknowledged was taken away."""
    write_chamber(tmp_path)
    with Stand(tmp_path) as stand:
        service = stand.start_ready()
        stand.wanted("load", pieces=BATCH)
        stand.wanted("start", program=PROGRAM, run_id="")
        stand.wanted("weigh", piece="loin", weight_g=880.0)
        stand.wanted("hold", reason="visit 1")
        seen = _committed(stand)
        service.process.kill()
        service.process.wait(10.0)
        service = stand.start_ready()
        told = Told(weighed=[("loin", 880.0)], held=["visit 1"])
        assert _wrong(stand, told, seen) == []
        assert "resumed" in _wrong(stand, Told(resumed=1), seen)[0]
        assert "acknowledged" in _wrong(stand, Told(weighed=[("neck", 870.0)]), seen)[0]
        assert "visit 2" in _wrong(stand, Told(held=["visit 2"]), seen)[0]
        assert "readings of 1 ticks" in _wrong(stand, told, seen | Counter({1_000_000: 3}))[0]
        service.process.kill()
        service.process.wait(10.0)
        with closing(sqlite3.connect(tmp_path / "record.db")) as record, record:
            record.execute("UPDATE request SET ask = replace(ask, '880.0', '870.0') WHERE verb = 'weigh'")
        assert any("stands at 880.0 g, 870.0 g is on record" in what for what in _wrong(stand, told, seen))
