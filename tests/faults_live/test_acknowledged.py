"""The real service is killed while people ask; a thousand times by ``python -m tests.faults_live.acknowledged``."""

from __future__ import annotations

import random
import sqlite3
from contextlib import closing
from pathlib import Path

from tests.faults_live.acknowledged import BATCH, Told, committed, kill_many, what_is_wrong
from tests.faults_live.stand import PROGRAM, Stand, write_chamber

KILLS = 24


def test_nothing_acknowledged_orcommitted_is_lost_by_kills(tmp_path: Path) -> None:
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
        seen = committed(stand)
        service.process.kill()
        service.process.wait(10.0)
        service = stand.start_ready()
        told = Told(weighed=[("loin", 880.0)], held=["visit 1"])
        assert what_is_wrong(stand, told, seen) == []
        assert "resumed" in what_is_wrong(stand, Told(resumed=1), seen)[0]
        assert "acknowledged" in what_is_wrong(stand, Told(weighed=[("neck", 870.0)]), seen)[0]
        assert "visit 2" in what_is_wrong(stand, Told(held=["visit 2"]), seen)[0]
        assert "1 readings are gone" in what_is_wrong(stand, told, seen | {1_000_000: (1, 20.0, 1.0)})[0]
        first = next(iter(seen))
        assert "1 readings are gone or changed" in what_is_wrong(stand, told, seen | {first: (1, 99.0, 1.0)})[0]
        service.process.kill()
        service.process.wait(10.0)
        with closing(sqlite3.connect(tmp_path / "record.db")) as record, record:
            record.execute("UPDATE request SET ask = replace(ask, '880.0', '870.0') WHERE verb = 'weigh'")
            record.execute("DELETE FROM event WHERE kind = 'asked-hold'")
            record.execute("UPDATE reply SET request_id = (SELECT min(request_id) FROM reply)")
        found = "\n".join(what_is_wrong(stand, told, seen))
        assert "stands at 880.0 g, 870.0 g is on record" in found
        assert "hold was accepted 1 times in tick" in found
        assert "was answered more than once" in found
