"""What must hold of a record file after any crash, however it came about."""

from __future__ import annotations

import sqlite3
from collections.abc import Collection
from contextlib import closing
from pathlib import Path

from dryward.record.queries import Record


def wrong_after_crash(path: Path, acknowledged: Collection[int]) -> list[str]:
    """Return what is wrong: damage, acknowledged weighings that are gone, anything twice, or a state that does not fit."""
    if not path.exists():
        return [f"the file is gone, with {len(acknowledged)} acknowledged"] if acknowledged else []
    found = []
    with closing(sqlite3.connect(path)) as conn:  # a writing connection: this is the recovery
        check = conn.execute("PRAGMA integrity_check").fetchall()
        if check != [("ok",)]:
            found.append(f"integrity_check: {check[:3]}")
        if conn.execute("PRAGMA user_version").fetchone() == (0,):
            return [*found, *(["no schema yet"] if acknowledged else [])]
        weighed = [tick for (tick,) in conn.execute("SELECT tick FROM weigh_in")]
        if lost := set(acknowledged) - set(weighed):
            found.append(f"{len(lost)} acknowledged weighings are gone, such as {min(lost)}")
        if len(weighed) != len(set(weighed)):
            found.append("a weighing is there twice")
        if wrong := conn.execute(
            "SELECT tick, count(*) FROM reading GROUP BY tick HAVING count(*) <> 3 LIMIT 3"
        ).fetchall():
            found.append(f"ticks with other than their three readings: {wrong}")
        if conn.execute("SELECT count(*) FROM refused").fetchone() != (0,):
            found.append("something was refused")
    with Record(path) as record:
        checkpoint, last = record.latest_checkpoint(), record.last_tick()
        if weighed and (checkpoint is None or checkpoint.tick != last or last < max(weighed)):
            found.append(
                f"the state is of tick {checkpoint and checkpoint.tick}, the record goes to {last}, the last weighing is of {max(weighed)}"
            )
    return found
